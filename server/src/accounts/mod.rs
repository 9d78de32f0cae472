//! Accounts: people who can log in, their sessions and tokens.
//!
//! Rules: names, passwords and the renewal of tokens are judged by `tarn_domain::accounts`; wrong passwords are
//! slowed down by (account, address) and by address, so that nobody can lock another out, and so are wrong codes of a
//! second factor.
//! Letters that anybody may ask for are written in jobs, so that the answer tells nothing. Messages, the digest by mail
//! and the calendar are told by account. Tables owned: `accounts`, `sessions`, `refresh_tokens`, `second_factors`,
//! `recovery_codes`, `pending_sign_ins`, `account_telling`, `calendar_feeds`, `mail_links`, `young_accounts`. What an account may do is not
//! decided here.

use actix_web::web::ServiceConfig as Pages;
use utoipa_actix_web::service_config::ServiceConfig as Routes;

pub mod actions;
mod api;
pub mod jobs;
mod mail;
mod pages;
pub mod refusals;
pub mod store;
mod views;

pub use api::{Session, what};
pub use pages::with_cookie;

/// The JSON routes, under `/api/v1`.
pub fn routes(cfg: &mut Routes) {
    cfg.service(api::sign_in)
        .service(api::renew)
        .service(api::sign_out)
        .service(api::end_other_sessions)
        .service(api::sessions)
        .service(api::end_session)
        .service(api::list_devices)
        .service(api::end_device)
        .service(api::account)
        .service(api::change_password)
        .service(api::set_email)
        .service(api::ask_for_proof)
        .service(api::prove_email)
        .service(api::ask_for_reset)
        .service(api::reset_password)
        .service(api::ask_for_account)
        .service(api::sign_up)
        .service(api::list_young)
        .service(api::end_sessions_of_young)
        .service(api::set_password_of_young)
        .service(api::data_of_young)
        .service(api::close_young)
        .service(api::of_age)
        .service(api::own_data)
        .service(api::leave_server)
        .service(api::get_factor)
        .service(api::begin_factor)
        .service(api::confirm_factor)
        .service(api::renew_codes)
        .service(api::end_factor)
        .service(api::list_messages)
        .service(api::read_message)
        .service(api::get_telling)
        .service(api::set_digest)
        .service(api::make_calendar)
        .service(api::end_calendar);
}

/// The public keys, outside `/api/v1`.
pub fn well_known(cfg: &mut Routes) {
    cfg.service(api::keys);
}

/// The pages.
pub fn pages(cfg: &mut Pages) {
    cfg.service(pages::first)
        .service(pages::sign_in_form)
        .service(pages::sign_in)
        .service(pages::sign_out)
        .service(pages::account)
        .service(pages::end_session)
        .service(pages::show_data)
        .service(pages::download_data)
        .service(pages::leave)
        .service(pages::end_other_sessions)
        .configure(pages::access)
        .configure(pages::passwords)
        .configure(pages::addresses)
        .configure(pages::by_letter)
        .configure(pages::devices)
        .configure(pages::in_care)
        .configure(pages::told_how)
        .configure(pages::told_what);
}

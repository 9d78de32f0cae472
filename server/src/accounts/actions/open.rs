//! Opening an account. Who may is decided by whoever holds the invitation (`clubs`).

use sea_orm::ActiveValue::{NotSet, Set};
use tarn_domain::accounts::{Beside, Email, LoginName, ShownName, YOUNG_NAME, check_password};

use super::super::{refusals, store};
use super::leaving::GONE_NAME;
use crate::entities::accounts;
use crate::platform::{Result, Write};

/// What somebody typed to get an account, checked.
pub struct NewAccount {
    login_name: LoginName,
    email: Option<Email>,
    shown_name: ShownName,
}

impl NewAccount {
    /// Checks what was typed; the address may be empty.
    pub fn parse(login_name: &str, email: &str, shown_name: &str, password: &str) -> Result<Self> {
        let login_name =
            LoginName::parse(login_name).map_err(|why| refusals::not_taken("/login_name", why))?;
        let email = Some(email.trim()).filter(|text| !text.is_empty()).map(Email::parse);
        let email = email.transpose().map_err(|why| refusals::not_taken("/email", why))?;
        let shown_name =
            ShownName::parse(shown_name).map_err(|why| refusals::not_taken("/shown_name", why))?;
        if [YOUNG_NAME, GONE_NAME].iter().any(|word| shown_name.reads_like(word)) {
            let why = "This stands for members under age, or for who has left. Take another.";
            return Err(refusals::not_taken("/shown_name", why));
        }
        let own = [login_name.as_str(), email.as_ref().map_or("", Email::as_str), shown_name.as_str()];
        check_password(password, &own, Beside::Nothing)
            .map_err(|weakness| refusals::weak(weakness, "/password"))?;
        Ok(Self { login_name, email, shown_name })
    }
}

/// Opens the account, unless somebody has the login name.
pub async fn open_account(w: &mut Write, new: &NewAccount, password_hash: &str) -> Result<accounts::Model> {
    if store::account_by_login(w.tx(), &new.login_name).await?.is_some() {
        return Err(refusals::login_name_taken());
    }
    let row = accounts::ActiveModel {
        id: Set(w.ctx().ids.new_id(w.now)),
        login_name: Set(new.login_name.to_string()),
        email: Set(new.email.as_ref().map_or_else(String::new, |email| email.as_str().to_owned())),
        shown_name: Set(new.shown_name.as_str().to_owned()),
        password_hash: Set(password_hash.to_owned()),
        made_ms: Set(w.now),
        closed_ms: NotSet,
    };
    let account = store::insert_account(w.tx(), row).await?;
    w.audit("accounts", format!("account {} opened", account.id));
    Ok(account)
}

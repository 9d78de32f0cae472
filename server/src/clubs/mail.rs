//! The one letter of this area: an invitation. Plain text; its link is good once and ends by itself.

use tarn_domain::accounts::Email;
use uuid::Uuid;

use crate::platform::mail::Letter;

/// Invites somebody into a club.
pub fn letter(id: Uuid, to: &Email, club: &str, link: &str, until: &str) -> Letter {
    let body = format!(
        "{club} invites you. With an account you keep the records of your fish room, and take part in what the club \
         does.\n\nOpen this page to make one, or to join with the one you have:\n\n{link}\n\nThe link is good once, until \
         {until}. If you don\u{2019}t know the club, do nothing.\n"
    );
    Letter { id, to: to.as_str().to_owned(), subject: format!("An invitation into {club}"), body }
}

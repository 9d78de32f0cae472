//! The menu of somebody who is signed in. What stands in it comes from the areas, by way of `app.rs`.

use futures_util::future::LocalBoxFuture;
use uuid::Uuid;

use super::ctx::Ctx;
use super::errors::Result;

/// A line of the menu.
#[derive(Clone, Debug)]
pub struct MenuEntry {
    /// Where it leads.
    pub href: String,
    /// Its words.
    pub label: String,
    /// Whether one is there.
    pub current: bool,
}

impl MenuEntry {
    /// A line that leads somewhere.
    pub fn to(href: impl Into<String>, label: &str) -> Self {
        Self { href: href.into(), label: label.to_owned(), current: false }
    }

    /// Whether it leads into the part of the site that begins with this address.
    pub fn leads_into(&self, part: &str) -> bool {
        let rest = self.href.strip_prefix(part);
        !part.is_empty() && rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
    }
}

/// Asks for an account's menu.
pub type MenuFn = for<'a> fn(&'a Ctx, Uuid) -> LocalBoxFuture<'a, Result<Vec<MenuEntry>>>;

/// Who knows the menu; set once, in `app.rs`.
pub struct Menu(pub MenuFn);

impl Default for Menu {
    fn default() -> Self {
        Self(|_, _| Box::pin(async { Ok(Vec::new()) }))
    }
}

/// The menu of an account.
pub async fn of(ctx: &Ctx, account: Uuid) -> Result<Vec<MenuEntry>> {
    (ctx.part::<Menu>().0)(ctx, account).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_leads_into_its_own_part_only() {
        let room = MenuEntry::to("/rooms/0190", "Room");
        assert!(room.leads_into("/rooms"));
        assert!(!room.leads_into("/roo") && !room.leads_into(""));
        assert!(!MenuEntry::to("/units", "Units").leads_into("/sign-off"));
    }
}

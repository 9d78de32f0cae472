//! `tarn notice list`.

use clap::Args;

use crate::commands::clubs::club_id;
use crate::commands::parcels::online::{encoded, for_what, numbers, short_id, text};
use crate::failure::Outcome;
use crate::sync::session;
use crate::tarn::Tarn;

/// Lists the notices that you may read, those put up last first. What may not leave its room is not among them.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn notice list\n  tarn notice list wingei --kind to-swap\n  tarn notice list --mine"
)]
pub struct List {
    /// Words that must all be in species, form, remarks, exchange or area
    words: Vec<String>,
    /// for-sale, to-swap, wanted, free
    #[arg(long)]
    kind: Option<String>,
    /// On the board of one of your clubs
    #[arg(long)]
    club: Option<String>,
    /// Your own, whatever their state
    #[arg(long)]
    mine: bool,
    /// How many at most, 1 to 200
    #[arg(long, default_value_t = 50, value_name = "N")]
    limit: u32,
}

impl List {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let mut remote = session::open(tarn)?;
        let words = encoded(&self.words.join(" "));
        let mut path = format!("notices?limit={}&mine={}&q={words}", self.limit, self.mine);
        if let Some(kind) = &self.kind {
            path.push_str(&format!("&kind={}", encoded(&kind.replace('-', "_"))));
        }
        if let Some(club) = &self.club {
            path.push_str(&format!("&club={}", club_id(&mut remote, Some(club))?));
        }
        let answer = remote.get(&path)?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        let row = |notice: &serde_json::Value| {
            let state = text(notice, "state");
            let shown = if notice["not_shown"].is_string() { "not shown".to_owned() } else { state };
            vec![
                short_id(notice, "id"),
                text(notice, "kind").replace('_', " "),
                text(notice, "species"),
                text(notice, "form"),
                numbers(&notice["numbers"]),
                for_what(notice),
                text(notice, "area"),
                if self.mine { shown } else { text(notice, "author") },
            ]
        };
        let rows = answer["notices"].as_array().into_iter().flatten().map(row).collect();
        let last = if self.mine { "state" } else { "from" };
        tarn.out.table(&["notice", "kind", "species", "form", "how many", "for", "area", last], rows)?;
        if !answer["next"].is_null() {
            tarn.out.say("There are more; narrow it down with words, or ask for more with --limit.");
        }
        Ok(())
    }
}

//! `tarn notice post`.

use clap::Args;
use serde_json::{Value, json};
use tarn_domain::parcels::{NoticeKind, Price, cautions};

use crate::clock;
use crate::commands::arguments::optional;
use crate::commands::clubs::club_id;
use crate::commands::parcels::online::{heads, text};
use crate::failure::{Failure, Outcome};
use crate::sync::session;
use crate::tarn::Tarn;

/// Puts up a notice on the board of a club. An offer names a stock of yours that may leave now.
#[derive(Debug, Args)]
#[command(
    before_help = "Examples:\n  tarn notice post for-sale --stock \"Campo\" --numbers \"2 m 3 f\" --price \"12.50 EUR\" \
    --area \"Upper valley\" --pickup\n  tarn notice post to-swap --stock Danios --numbers 6 --exchange \"any killifish\" \
    --area Harbour --pickup --posting\n  tarn notice post wanted --species \"Xenotoca eiseni\" --area Harbour --pickup",
    after_help = "Posting live animals, selling them, and passing on wild-caught or protected species may need papers or \
    be forbidden where you live. The law there comes first."
)]
pub struct Post {
    /// for-sale, to-swap, wanted, free
    #[arg(value_parser = kind)]
    kind: NoticeKind,
    /// The species, if it is not that of the stock
    #[arg(long, value_name = "NAME")]
    species: Option<String>,
    /// Colour or fin form, if it is not that of the stock
    #[arg(long)]
    form: Option<String>,
    /// The stock of yours that is offered; nobody else sees which it is
    #[arg(long)]
    stock: Option<String>,
    /// How many: 2.3.10, "2 m 3 f", 12
    #[arg(long, value_name = "NUMBERS")]
    numbers: Option<String>,
    /// For how much, for all of them together, as "12.50 EUR"
    #[arg(long)]
    price: Option<String>,
    /// What you would take in exchange
    #[arg(long)]
    exchange: Option<String>,
    /// A town or region, never an address
    #[arg(long)]
    area: String,
    /// They can be picked up
    #[arg(long)]
    pickup: bool,
    /// They can be posted
    #[arg(long)]
    posting: bool,
    /// Anything else
    #[arg(long)]
    remarks: Option<String>,
    /// On whose board, if you are in several clubs
    #[arg(long)]
    club: Option<String>,
    /// Members of the other clubs on this server see it too
    #[arg(long)]
    all_clubs: bool,
}

fn kind(word: &str) -> Result<NoticeKind, String> {
    NoticeKind::parse(&word.replace('-', "_"))
        .ok_or_else(|| format!("{word:?} is none of for-sale, to-swap, wanted, free"))
}

/// "12.50 EUR" or "EUR 12.50".
fn price(typed: &str) -> Outcome<Value> {
    let (one, two) = typed.trim().split_once(char::is_whitespace).unwrap_or((typed.trim(), ""));
    let is_code = |text: &str| !text.is_empty() && text.chars().all(char::is_alphabetic);
    let (amount, currency) = if is_code(one) { (two, one) } else { (one, two) };
    let price = Price::typed(amount, currency).map_err(Failure::wrong_use)?;
    Ok(json!({ "minor": price.minor, "currency": price.currency }))
}

impl Post {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let (mut species, mut form) = (optional(self.species)?, optional(self.form)?);
        let mut notice = json!({
            "kind": self.kind.as_str(), "exchange": optional(self.exchange)?, "area": self.area,
            "pickup": self.pickup, "posting": self.posting, "remarks": self.remarks, "all_clubs": self.all_clubs,
        });
        if let Some(stock) = &self.stock {
            let room = tarn.room()?;
            let (id, state) = tarn.stock(&room, stock)?;
            species = species.or(state.species);
            form = form.or(state.form);
            notice["offer"] = json!({ "room": room.id, "stock": id });
        }
        notice["species"] = json!(species.ok_or_else(|| {
            Failure::wrong_use("the species is not known").hint("--species \"Poecilia wingei\"")
        })?);
        notice["form"] = json!(form);
        if let Some(numbers) = &self.numbers {
            notice["numbers"] = heads(&numbers.parse().map_err(Failure::wrong_use)?);
        }
        if let Some(typed) = &self.price {
            notice["price"] = price(typed)?;
        }
        let mut remote = session::open(tarn)?;
        let club = club_id(&mut remote, self.club.as_deref())?;
        let body = json!({ "id": clock::new_id(), "club": club, "notice": notice });
        let answer = remote.post("notices", &body)?;
        if tarn.out.is_json() {
            return tarn.out.data(&answer);
        }
        tarn.out.line(&text(&answer, "id"))?;
        tarn.out.say(&format!("The notice stands until {}.", text(&answer, "ends_at")));
        for caution in cautions(self.kind, self.posting) {
            tarn.out.say(caution);
        }
        Ok(())
    }
}

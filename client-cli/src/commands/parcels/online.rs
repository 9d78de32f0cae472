//! What the commands about notices and swaps share: finding one by a part of its id, and telling numbers and prices.

use serde_json::{Value, json};
use tarn_domain::parcels::{Price, spread_of};
use tarn_domain::rooms::{Count, Sex, Spread, Typed};

use crate::failure::{Failure, Outcome};
use crate::find::{is_part_of_id, short};
use crate::remote::Remote;

/// A text of an answer; empty for none.
pub fn text(value: &Value, name: &str) -> String {
    value[name].as_str().unwrap_or_default().to_owned()
}

/// The last eight digits of an id, which tell it apart.
pub fn short_id(value: &Value, name: &str) -> String {
    value[name].as_str().and_then(|id| id.parse().ok()).map(short).unwrap_or_default()
}

/// A text as a value in an address.
pub fn encoded(text: &str) -> String {
    let plain = |b: u8| b.is_ascii_alphanumeric() || b"-._~".contains(&b);
    text.bytes().map(|b| if plain(b) { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

/// Which of the lists on the server has the id that is meant, and the whole id. A list is an address, the member that
/// holds it, and the member that is its id.
pub fn find<'a>(
    remote: &mut Remote,
    what: &str,
    typed: &str,
    lists: &[(&'a str, &'a str, &'a str)],
) -> Outcome<(&'a str, String)> {
    let lower = typed.trim().to_lowercase();
    let mut found: Vec<(&str, String)> = Vec::new();
    for (path, member, id) in lists {
        let mut next = Value::Null;
        loop {
            let more = next.as_str().map(|next| format!("&after={next}")).unwrap_or_default();
            let mark = if path.contains('?') { '&' } else { '?' };
            let answer = remote.get(&format!("{path}{mark}limit=200{more}"))?;
            for one in answer[*member].as_array().into_iter().flatten() {
                let whole = text(one, id);
                let meant = whole == lower || whole.parse().is_ok_and(|uuid| is_part_of_id(&lower, uuid));
                if meant && !found.iter().any(|(_, known)| *known == whole) {
                    found.push((*member, whole));
                }
            }
            next = answer["next"].clone();
            if next.is_null() {
                break;
            }
        }
    }
    match found.len() {
        1 => found.pop().ok_or_else(|| Failure::refused(format!("no {what}"))),
        0 => Err(Failure::wrong_use(format!("there is no {what} {typed:?} that you may read"))
            .hint(format!("tarn {what} list"))),
        _ => {
            Err(Failure::wrong_use(format!("{typed:?} may be any of several")).hint("Write more of its id."))
        }
    }
}

/// "2 m 3 f" of an answer.
pub fn numbers(value: &Value) -> String {
    let n = |name: &str| value[name].as_i64().unwrap_or(0);
    let spread = Spread { males: n("males"), females: n("females"), unsexed: n("unsexed"), eggs: n("eggs") };
    if spread == Spread::default() { String::new() } else { spread.to_string() }
}

/// Numbers as the server reads them.
pub fn heads(typed: &Typed) -> Value {
    let Spread { males, females, unsexed, eggs } = spread_of(typed);
    json!({ "males": males, "females": females, "unsexed": unsexed, "eggs": eggs })
}

/// Numbers of an answer, as if they were typed.
pub fn typed(value: &Value) -> Typed {
    let sexes =
        [(Sex::Male, "males"), (Sex::Female, "females"), (Sex::Unsexed, "unsexed"), (Sex::Eggs, "eggs")];
    let one = |(sex, name): (Sex, &str)| {
        let n = value[name].as_u64().and_then(|n| u32::try_from(n).ok()).and_then(Count::of)?;
        (n.get() > 0).then_some((sex, n, false))
    };
    Typed(sexes.into_iter().filter_map(one).collect())
}

/// "EUR 12.50", or what is taken in exchange.
pub fn for_what(value: &Value) -> String {
    let price = &value["price"];
    let price = price["minor"].as_i64().zip(price["currency"].as_str());
    let price =
        price.and_then(|(minor, currency)| Price::of(minor, currency).ok()).map(|price| price.to_string());
    let all = [price, value["exchange"].as_str().map(str::to_owned)];
    all.into_iter().flatten().collect::<Vec<_>>().join(", or ")
}

/// The lines of a thread, for a table.
pub fn lines(thread: &Value) -> Vec<Vec<String>> {
    let lines = thread["lines"].as_array().into_iter().flatten();
    lines
        .map(|line| vec![text(line, "at"), text(line, "by"), text(line, "text").replace('\n', " / ")])
        .collect()
}

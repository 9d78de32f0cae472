//! A keeper at the room's pages: signs in if need be, fills in a form, and sometimes sends it twice.

use rand::Rng;
use rand::rngs::StdRng;
use rand::seq::IndexedRandom;
use tarn_tests::site::Visitor;

/// Fills in some form of a room's pages; what came of it.
pub fn edit(visitor: &mut Visitor, login: &str, stream: &str, rng: &mut StdRng) -> Result<String, String> {
    let mut room = visitor.get(&format!("/rooms/{stream}"))?;
    if room.is_sign_in() || room.status == 401 {
        let signed_in = visitor.sign_in(login)?;
        room = visitor.get(&format!("/rooms/{stream}"))?;
        if room.status != 200 {
            return Err(format!(
                "signing in gave {} at {}: {}",
                signed_in.status, signed_in.url, signed_in.html
            ));
        }
    }
    if rng.random_bool(0.2) {
        let form = room.form(|f| f.action.ends_with("/taken-back")).ok_or("nothing to take back")?;
        let done = visitor.post(&form)?;
        return Ok(format!("took back {:?}: {}", form.fields.get("entry"), done.status));
    }
    let links: Vec<&str> = room.html.split("href=\"").skip(1).filter_map(|l| l.split('"').next()).collect();
    let stocks: Vec<&&str> = links.iter().filter(|l| l.contains("/stocks/")).collect();
    let stock = stocks.choose(rng).ok_or_else(|| format!("no stock on the page ({})", room.status))?;
    let page = visitor.get(stock)?;
    let what = ["lost", "counted", "note"].choose(rng).copied().unwrap_or("note");
    let form = page.form(|f| f.fields.get("what").is_some_and(|w| w == what)).ok_or("no such form")?;
    let few = rng.random_range(1..4).to_string();
    let form = match what {
        "note" => form.with("note_text", "looked well"),
        "lost" => form.with("lost_numbers", &format!("{few} m")).with("lost_cause", "jumped"),
        _ => form.with("counted_numbers", &format!("{few} m")).with("counted_all", "some"),
    };
    let done = visitor.post(&form)?;
    // the same form again, as from an impatient finger, is the same entry
    if rng.random_bool(0.3) {
        drop(visitor.post(&form)?);
    }
    let id = form.fields.get("id").cloned().unwrap_or_default();
    let taken = done.url.query().is_some_and(|query| query.contains(&id));
    Ok(format!("{what}: {id} {} {}", done.status, if taken { "taken" } else { "not taken" }))
}

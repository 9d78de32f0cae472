//! `tarn water parasites`.

use clap::Args;
use serde_json::{Value as Json, json};
use tarn_domain::quarantine::parasites::{Days, Fact, Parasite, Where, at, known_at};
use tarn_domain::rooms::water::{reading, thousandths};
use tarn_domain::rooms::words::Measure;

use crate::failure::{Failure, Outcome};
use crate::tarn::Tarn;

/// Tells how long parasites' stages last at a temperature, where a source measured it. Between and beyond its
/// temperatures nothing is said. No treatment follows from it: a veterinarian, the label and local law come first.
#[derive(Debug, Args)]
#[command(before_help = "Examples:\n  tarn water parasites\n  tarn water parasites --temperature 20C")]
pub struct Parasites {
    /// At which temperature, as 20C or 68F; without it, which temperatures are known
    #[arg(long)]
    temperature: Option<String>,
}

impl Parasites {
    /// Runs it.
    pub fn run(self, tarn: &mut Tarn) -> Outcome {
        let typed = self.temperature.as_deref().map(|text| reading(Measure::Temperature, text)).transpose();
        let milli =
            typed.map_err(|why| Failure::wrong_use(format!("--temperature: {why}")))?.map(|v| v.milli);
        let (mut rows, mut all) = (Vec::new(), Vec::new());
        for parasite in Parasite::ALL {
            let facts = milli.map(|milli| at(parasite, milli)).unwrap_or_default();
            let known: Vec<String> = known_at(parasite).into_iter().map(place).collect();
            let name = format!("{} ({})", parasite.plain(), parasite.species());
            if facts.is_empty() {
                rows.push(vec![name.clone(), format!("known {}", known.join(", ")), String::new()]);
            }
            for (fact, days) in &facts {
                let says = format!("{} {}", fact.stage.plain(), in_days(*days));
                rows.push(vec![name.clone(), says, fact.source.to_owned()]);
            }
            all.push(json!({
                "parasite": parasite.word(), "species": parasite.species(), "known": known,
                "facts": facts.iter().map(|(fact, days)| fact_json(fact, *days)).collect::<Vec<_>>(),
            }));
        }
        if tarn.out.is_json() {
            return tarn.out.data(&json!(all));
        }
        tarn.out.table(&["parasite", "what is known", "source"], rows)?;
        tarn.out.say("Looked up only where a source has it, never between. No treatment follows from it.");
        Ok(())
    }
}

fn fact_json(fact: &Fact, days: Days) -> Json {
    json!({ "stage": fact.stage.plain(), "at": place(fact.at), "days": in_days(days), "source": fact.source })
}

fn place(known: Where) -> String {
    let degrees = |milli| format!("{} °C", thousandths(milli));
    match known {
        Where::At(t) => format!("at {}", degrees(t)),
        Where::Above(t) => format!("above {}", degrees(t)),
        Where::Below(t) => format!("below {}", degrees(t)),
        Where::In(from, to) => format!("from {} to {}", degrees(from), degrees(to)),
    }
}

fn in_days(days: Days) -> String {
    let number = |n: f64| {
        let text = format!("{n:.1}");
        text.trim_end_matches(".0").to_owned()
    };
    match days {
        Days::Are(0.0) => "0 days: none survived".into(),
        Days::Are(n) => format!("{} days", number(n)),
        Days::About(n) => format!("about {} days", number(n)),
        Days::Under(n) => format!("under {} days", number(n)),
        Days::Over(n) => format!("over {} days", number(n)),
        Days::From(from, to) => format!("{} to {} days", number(from), number(to)),
    }
}

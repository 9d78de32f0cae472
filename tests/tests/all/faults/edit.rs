//! What a keeper may record: one command line each, with names that no other device of the room gives.

use super::device::Device;
use rand::Rng;
use rand::rngs::StdRng;
use rand::seq::IndexedRandom;

/// Something to be recorded.
pub struct Edit {
    /// Verb and arguments of `tarn`.
    pub arguments: Vec<String>,
    /// The tank that exists afterwards.
    pub tank: Option<String>,
    /// The stock that exists afterwards.
    pub stock: Option<String>,
}

/// Dates are shuffled: some things are written down only later.
const BACK: [Option<&str>; 6] = [None, None, None, Some("3m ago"), Some("1h ago"), Some("1d ago")];

fn words(line: &str) -> Vec<String> {
    line.split(' ').map(str::to_owned).collect()
}

impl Edit {
    fn of(line: &str) -> Self {
        Self { arguments: words(line), tank: None, stock: None }
    }

    fn dated(mut self, rng: &mut StdRng) -> Self {
        if let Some(Some(back)) = BACK.choose(rng) {
            self.arguments.extend(["--at".to_owned(), (*back).to_owned()]);
        }
        self
    }

    /// Something that makes sense on this device, or nearly.
    pub fn some(rng: &mut StdRng, device: &Device) -> Self {
        let chance = rng.random_range(0..100);
        let name = device.next_name();
        let Some(tank) = device.tanks.choose(rng).filter(|_| chance >= 8) else {
            let volume = rng.random_range(20..200);
            let line = format!("tank add t{name} --volume {volume}l");
            return Self { tank: Some(format!("t{name}")), ..Self::of(&line) };
        };
        let Some(stock) = device.stocks.choose(rng).filter(|_| chance >= 20) else {
            let (m, f, u) = (rng.random_range(1..9), rng.random_range(1..9), rng.random_range(0..9));
            let line = format!("stock add s{name} {m}.{f}.{u} --tank {tank} --species Danio");
            return Self { stock: Some(format!("s{name}")), ..Self::of(&line) }.dated(rng);
        };
        let sex = ["m", "f"].choose(rng).copied().unwrap_or_default();
        let few = rng.random_range(1..4);
        match chance {
            20..23 => Self::of(&format!("spawn seen --parents {stock}")).dated(rng),
            23..26 => {
                let line = format!("spawn eggs e{name} {} --parents {stock} --tank {tank}", few * 10);
                Self { stock: Some(format!("e{name}")), ..Self::of(&line) }.dated(rng)
            }
            26..28 => Self::of(&format!("spawn eggs {stock} {few} --more")).dated(rng),
            28..31 => Self::of(&format!("spawn hatched {stock}")).dated(rng),
            31..42 => Self::of(&format!("stock lost {stock} {few} {sex} --cause jumped")).dated(rng),
            42..52 => {
                let (m, f) = (rng.random_range(0..9), rng.random_range(0..9));
                let some = if rng.random_bool(0.5) { " --some" } else { "" };
                Self::of(&format!("stock count {stock} {m} m {f} f{some}")).dated(rng)
            }
            52..63 => Self::of(&format!("stock move {stock} {tank}")).dated(rng),
            63..70 => {
                let line = format!("stock split {stock} {few} {sex} --name s{name} --tank {tank}");
                Self { stock: Some(format!("s{name}")), ..Self::of(&line) }.dated(rng)
            }
            70..74 => {
                let into = device.stocks.choose(rng).unwrap_or(stock);
                Self::of(&format!("stock merge {stock} {into}")).dated(rng)
            }
            74..82 => Self::of(&format!("stock describe {stock} --form form{name}")),
            82..88 => Self::of(&format!("tank describe {tank} --stand stand{name}")),
            88..91 => Self::of(&format!("food given flakes --tank {tank}")).dated(rng),
            91..95 => Self::of("wrong"),
            _ => match device.acknowledged().choose(rng) {
                Some(written) => Self::of(&format!("wrong {}", written.op)),
                None => Self::of("wrong"),
            },
        }
    }
}

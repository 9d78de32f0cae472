//! How much water there is, gross and net, and how that is known: measured, or reckoned from its parts. A part that
//! nobody wrote down is unknown, not nothing; where one is missing there is no volume, and no arithmetic with it.

use serde::Serialize;
use serde_json::{Value as Json, json};

use super::thousandths;
use crate::rooms::ops::Millilitres;
use crate::rooms::{SystemState, TankState};
use crate::streams::TankId;

/// A part of a water's volume.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// What the tanks hold.
    Tanks,
    /// The sump.
    Sump,
    /// Pipes, filters and other vessels.
    Pipes,
    /// All of it, as it was measured.
    Gross,
    /// Taken off: sand, stones, wood and gear.
    Displacement,
    /// Another system, whose water it shares.
    Joined,
}

/// A part and how much it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Share {
    /// Which.
    pub part: Part,
    /// In millilitres.
    pub ml: u64,
}

/// How a volume is known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "how", content = "parts")]
pub enum How {
    /// Somebody measured it and wrote it down.
    Measured,
    /// The sum of these, displacement taken off.
    Reckoned(Vec<Share>),
}

/// A volume that is known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Volume {
    /// In millilitres.
    pub ml: u64,
    /// How it is known.
    #[serde(flatten)]
    pub how: How,
}

/// What a volume can't be told without.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "missing", content = "tank")]
pub enum Missing {
    /// The system has no tanks.
    NoTanks,
    /// How much a tank holds.
    Tank(TankId),
    /// The sump.
    Sump,
    /// Pipes, filters and other vessels.
    Pipes,
    /// Sand, stones, wood and gear in all of it.
    Displacement,
    /// What was written down can't be: as much taken off as there is, or more net than gross.
    Contradiction,
}

/// A volume, or what is missing.
pub type Told = Result<Volume, Vec<Missing>>;

/// The volumes of one water.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Volumes {
    /// All the water when filled.
    pub gross: Told,
    /// Less sand, stones, wood and gear: what arithmetic is done with.
    pub net: Told,
}

impl Volumes {
    /// Of a system, from what is written of it and of the tanks that share its water.
    pub fn of_system<'a>(
        system: &SystemState,
        tanks: impl IntoIterator<Item = (TankId, &'a TankState)>,
    ) -> Self {
        let tanks: Vec<(TankId, &TankState)> = tanks.into_iter().collect();
        let gross = match system.gross_ml {
            Some(measured) => Ok(Volume { ml: measured.0.into(), how: How::Measured }),
            None => sum_of(system, &tanks),
        };
        // said once for all of the water, or for each of its tanks
        let each = || tanks.iter().map(|(_, tank)| tank.displacement_ml.map(ml)).sum::<Option<u64>>();
        let displacement = system.displacement_ml.map(ml).or_else(|| each().filter(|_| !tanks.is_empty()));
        Self { net: net_of(system.net_ml, &gross, displacement), gross }
    }

    /// Of several systems that share one water.
    pub fn together(all: &[Self]) -> Self {
        let sum = |each: fn(&Self) -> &Told| {
            let missing = || all.iter().filter_map(|one| each(one).as_ref().err()).flatten().cloned();
            let shares: Vec<Share> =
                all.iter().filter_map(|one| Some(part(Part::Joined, each(one).as_ref().ok()?.ml))).collect();
            if shares.len() < all.len() {
                return Err(missing().collect());
            }
            Ok(Volume { ml: shares.iter().map(|share| share.ml).sum(), how: How::Reckoned(shares) })
        };
        Self { gross: sum(|one| &one.gross), net: sum(|one| &one.net) }
    }

    /// Of a tank whose water is its own.
    pub fn of_tank(id: TankId, tank: &TankState) -> Self {
        let gross = match tank.volume_ml {
            Some(holds) => {
                Ok(Volume { ml: ml(holds), how: How::Reckoned(vec![part(Part::Tanks, ml(holds))]) })
            }
            None => Err(vec![Missing::Tank(id)]),
        };
        Self { net: net_of(None, &gross, tank.displacement_ml.map(ml)), gross }
    }
}

const fn part(part: Part, ml: u64) -> Share {
    Share { part, ml }
}

fn ml(volume: Millilitres) -> u64 {
    volume.0.into()
}

fn sum_of(system: &SystemState, tanks: &[(TankId, &TankState)]) -> Told {
    let mut missing = Vec::new();
    if tanks.is_empty() {
        missing.push(Missing::NoTanks);
    }
    let mut in_tanks = 0;
    for (id, tank) in tanks {
        match tank.volume_ml {
            Some(holds) => in_tanks += ml(holds),
            None => missing.push(Missing::Tank(*id)),
        }
    }
    let mut known = |value: Option<Millilitres>, name: Missing| match value {
        Some(value) => ml(value),
        None => {
            missing.push(name);
            0
        }
    };
    let (sump, pipes) = (known(system.sump_ml, Missing::Sump), known(system.pipes_ml, Missing::Pipes));
    if !missing.is_empty() {
        return Err(missing);
    }
    let parts = vec![part(Part::Tanks, in_tanks), part(Part::Sump, sump), part(Part::Pipes, pipes)];
    Ok(Volume { ml: in_tanks + sump + pipes, how: How::Reckoned(parts) })
}

fn net_of(measured: Option<Millilitres>, gross: &Told, displacement: Option<u64>) -> Told {
    if let Some(net) = measured {
        let too_much = gross.as_ref().is_ok_and(|gross| gross.how == How::Measured && gross.ml < ml(net));
        if too_much || net.0 == 0 {
            return Err(vec![Missing::Contradiction]);
        }
        return Ok(Volume { ml: ml(net), how: How::Measured });
    }
    let (gross, displacement) = match (gross, displacement) {
        (Ok(gross), Some(displacement)) => (gross, displacement),
        (Ok(_), None) => return Err(vec![Missing::Displacement]),
        (Err(missing), Some(_)) => return Err(missing.clone()),
        (Err(missing), None) => {
            return Err(missing.iter().cloned().chain([Missing::Displacement]).collect());
        }
    };
    let Some(left) = gross.ml.checked_sub(displacement).filter(|left| *left > 0) else {
        return Err(vec![Missing::Contradiction]);
    };
    let mut parts = match &gross.how {
        How::Measured => vec![part(Part::Gross, gross.ml)],
        How::Reckoned(parts) => parts.clone(),
    };
    parts.push(part(Part::Displacement, displacement));
    Ok(Volume { ml: left, how: How::Reckoned(parts) })
}

/// A volume for programs: `ml` is null where it can't be told, and `missing` says why.
pub fn told_json(told: &Told) -> Json {
    match told {
        Ok(volume) => json!(volume),
        Err(missing) => json!({ "ml": null, "missing": missing }),
    }
}

/// "54 l", "0.75 l", of millilitres.
pub fn litres(ml: u64) -> String {
    format!("{}\u{a0}l", thousandths(i64::try_from(ml).unwrap_or(i64::MAX)))
}

impl How {
    /// "measured", or "tanks 300 l + sump 90 l + pipes 0 l − sand, stones, wood and gear 40 l".
    pub fn words(&self) -> String {
        let Self::Reckoned(parts) = self else { return "measured".into() };
        let mut all = String::new();
        for Share { part, ml } in parts {
            let (sign, word) = match part {
                Part::Tanks => (" + ", "tanks"),
                Part::Sump => (" + ", "sump"),
                Part::Pipes => (" + ", "pipes and filters"),
                Part::Gross => (" + ", "measured gross"),
                Part::Displacement => (" − ", "sand, stones, wood and gear"),
                Part::Joined => (" + ", "joined water"),
            };
            if !all.is_empty() {
                all.push_str(sign);
            }
            all.push_str(&format!("{word} {}", litres(*ml)));
        }
        all
    }
}

impl Missing {
    /// What to write down, in words; `tank` says what a tank is called.
    pub fn words(&self, tank: impl Fn(TankId) -> String) -> String {
        match self {
            Self::NoTanks => "tanks that share this water".into(),
            Self::Tank(id) => format!("how much {} holds", tank(*id)),
            Self::Sump => "the sump (0\u{a0}l if there is none)".into(),
            Self::Pipes => "pipes and filters (0\u{a0}l if they hold next to nothing)".into(),
            Self::Displacement => "what sand, stones, wood and gear take up (0\u{a0}l if it is bare)".into(),
            Self::Contradiction => {
                "numbers that fit: the net is no more than the gross, and something is left of it".into()
            }
        }
    }
}

/// All that is missing, in one sentence.
pub fn missing_words(missing: &[Missing], tank: impl Fn(TankId) -> String) -> String {
    let all: Vec<String> = missing.iter().map(|m| m.words(&tank)).collect();
    format!("Missing: {}.", all.join(", "))
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use uuid::Uuid;

    use super::*;

    fn tank(n: u128, holds: Option<u32>, displacement: Option<u32>) -> (TankId, TankState) {
        let state = TankState {
            made: None,
            since: None,
            name: None,
            stand: None,
            shelf: None,
            place: None,
            volume_ml: holds.map(Millilitres),
            displacement_ml: displacement.map(Millilitres),
            plumbing: Vec::new(),
            hung: Vec::new(),
            emptied: Vec::new(),
            findings: BTreeSet::new(),
        };
        (TankId(Uuid::from_u128(n)), state)
    }

    /// Gross, net, sump, pipes, displacement.
    fn system(volumes: [Option<u32>; 5]) -> SystemState {
        let [gross_ml, net_ml, sump_ml, pipes_ml, displacement_ml] = volumes.map(|v| v.map(Millilitres));
        SystemState {
            made: None,
            name: None,
            gross_ml,
            net_ml,
            sump_ml,
            pipes_ml,
            displacement_ml,
            joined: Vec::new(),
            emptied: Vec::new(),
            findings: BTreeSet::new(),
        }
    }

    fn told(volumes: [Option<u32>; 5], tanks: &[(TankId, TankState)]) -> Volumes {
        Volumes::of_system(&system(volumes), tanks.iter().map(|(id, tank)| (*id, tank)))
    }

    #[test]
    fn a_measured_volume_is_what_counts() {
        let volumes = told([Some(500_000), Some(430_000), None, None, Some(90_000)], &[]);
        assert_eq!(volumes.gross, Ok(Volume { ml: 500_000, how: How::Measured }));
        assert_eq!(volumes.net, Ok(Volume { ml: 430_000, how: How::Measured }));
        // measured gross, less what is in the way
        let volumes = told([Some(500_000), None, None, None, Some(90_000)], &[]);
        let net = volumes.net.expect("known");
        assert_eq!(
            (net.ml, net.how.words().as_str()),
            (410_000, "measured gross 500\u{a0}l − sand, stones, wood and gear 90\u{a0}l")
        );
    }

    #[test]
    fn parts_are_summed() {
        let tanks = [tank(1, Some(60_000), Some(5_000)), tank(2, Some(54_500), Some(0))];
        let volumes = told([None, None, Some(90_000), Some(10_000), None], &tanks);
        assert_eq!(volumes.gross.map(|v| v.ml), Ok(214_500));
        // without one for all of the water, each tank's own counts
        let net = volumes.net.expect("known");
        assert_eq!(net.ml, 209_500);
        let parts = [
            part(Part::Tanks, 114_500),
            part(Part::Sump, 90_000),
            part(Part::Pipes, 10_000),
            part(Part::Displacement, 5_000),
        ];
        assert_eq!(net.how, How::Reckoned(parts.to_vec()));
        // with one, that is all of it
        let volumes = told([None, None, Some(90_000), Some(10_000), Some(20_000)], &tanks);
        assert_eq!(volumes.net.map(|v| v.ml), Ok(194_500));
    }

    #[test]
    fn what_nobody_wrote_down_is_not_nothing() {
        let tanks = [tank(1, Some(60_000), Some(5_000)), tank(2, None, None)];
        let volumes = told([None, None, None, Some(0), None], &tanks);
        let missing = vec![Missing::Tank(tanks[1].0), Missing::Sump];
        assert_eq!(volumes.gross, Err(missing.clone()));
        let mut also = missing;
        also.push(Missing::Displacement);
        let words = missing_words(&also, |_| "A2".into());
        assert_eq!(volumes.net, Err(also));
        assert!(words.starts_with("Missing: how much A2 holds, the sump (0\u{a0}l"), "{words}");
        assert_eq!(told([None; 5], &[]).gross, Err(vec![Missing::NoTanks, Missing::Sump, Missing::Pipes]));
        let gross = told([Some(500_000), None, None, None, None], &[]);
        assert_eq!(gross.net, Err(vec![Missing::Displacement]));
    }

    #[test]
    fn joined_systems_are_one_water() {
        let (one, other) = (
            told([None, Some(480_000), None, None, None], &[]),
            told([None, Some(100_000), None, None, None], &[]),
        );
        let both = Volumes::together(&[one.clone(), other]);
        let net = both.net.expect("known");
        assert_eq!(
            (net.ml, net.how.words().as_str()),
            (580_000, "joined water 480\u{a0}l + joined water 100\u{a0}l")
        );
        assert!(both.gross.is_err());
        let unknown = told([None, None, None, None, Some(0)], &[]);
        assert_eq!(
            Volumes::together(&[one, unknown]).net,
            Err(vec![Missing::NoTanks, Missing::Sump, Missing::Pipes])
        );
    }

    #[test]
    fn numbers_that_cant_be_give_no_volume() {
        let no = Err(vec![Missing::Contradiction]);
        assert_eq!(told([Some(100), Some(101), None, None, None], &[]).net, no);
        assert_eq!(told([Some(100), None, None, None, Some(100)], &[]).net, no);
        assert_eq!(told([None, Some(0), None, None, None], &[]).net, no);
        let (id, full) = tank(1, Some(100), Some(200));
        assert_eq!(Volumes::of_tank(id, &full).net, no);
    }

    #[test]
    fn a_tank_on_its_own_water() {
        let (id, bare) = tank(1, Some(54_000), Some(0));
        assert_eq!(Volumes::of_tank(id, &bare).net.map(|v| v.ml), Ok(54_000));
        let (id, planted) = tank(1, Some(54_000), None);
        let volumes = Volumes::of_tank(id, &planted);
        assert_eq!(
            (volumes.gross.map(|v| v.ml), volumes.net),
            (Ok(54_000), Err(vec![Missing::Displacement]))
        );
        let (id, unknown) = tank(1, None, None);
        assert_eq!(Volumes::of_tank(id, &unknown).gross, Err(vec![Missing::Tank(id)]));
    }
}

//! Who has a say in a unit, and what the reader may do about it. Names come ready; asks nobody.

use tarn_domain::streams::ClubId;

/// A club that has a say.
pub struct ClubOf {
    /// Which.
    pub id: ClubId,
    /// Its name.
    pub name: String,
    /// How many health stewards it has.
    pub count: usize,
    /// Names of those who don't keep the room.
    pub stewards: Vec<String>,
    /// Who has signed for it.
    pub signed_by: Option<String>,
}

/// What the reader is to the unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum You {
    /// Keeps the room.
    Keeper,
    /// A steward who is no party; for which club, and of which other one if that has nobody who is free.
    Steward(ClubId, Option<String>),
    /// A steward who is a party.
    Party,
    /// A steward whose club has signed already.
    Done,
}

/// Everybody who has a say.
pub struct People {
    /// The clubs whose rule holds.
    pub clubs: Vec<ClubOf>,
    /// The reader.
    pub you: You,
    /// Clubs that the reader could name as home club, where there is none.
    pub could_join: Vec<(ClubId, String)>,
}

impl People {
    /// "Fellside Fishkeepers and Harbour Aquarists".
    pub fn clubs(&self) -> String {
        and(self.clubs.iter().map(|club| club.name.clone()))
    }

    /// Whom one may ask: "Ask Sten or Hedda.".
    pub fn ask(&self) -> String {
        let waiting = self.clubs.iter().filter(|club| club.signed_by.is_none());
        let mut names: Vec<&str> = waiting.flat_map(|club| &club.stewards).map(String::as_str).collect();
        names.sort_unstable();
        names.dedup();
        match &names[..] {
            [] => {
                "No steward of the club is free; its secretary names one, or one of another club here signs."
                    .into()
            }
            [one] => format!("Ask {one}."),
            [some @ .., last] => format!("Ask {} or {last}.", some.join(", ")),
        }
    }

    /// Whom one asks where every club has to sign: "Ask Sten or Stella of Fellside Fishkeepers, and Hedda of Harbour
    /// Aquarists.".
    pub fn ask_each(&self) -> String {
        let waiting: Vec<&ClubOf> = self.clubs.iter().filter(|club| club.signed_by.is_none()).collect();
        if waiting.len() < 2 || waiting.iter().any(|club| club.stewards.is_empty()) {
            return self.ask();
        }
        let of = |club: &&ClubOf| match &club.stewards[..] {
            [some @ .., last] if !some.is_empty() => {
                format!("{} or {last} of {}", some.join(", "), club.name)
            }
            all => format!("{} of {}", all.join(""), club.name),
        };
        let each: Vec<String> = waiting.iter().map(of).collect();
        format!("Ask {}.", each.join(", and "))
    }

    /// The club for which the reader may sign.
    pub fn yours(&self) -> Option<&ClubOf> {
        let You::Steward(id, _) = self.you else { return None };
        self.clubs.iter().find(|club| club.id == id)
    }

    /// Clubs with fewer stewards than it takes to go on when one is a party.
    pub fn short_of_stewards(&self) -> Vec<String> {
        let few = self.clubs.iter().filter(|club| club.count < 2);
        few.map(|club| too_few(&club.name, club.count)).collect()
    }
}

/// Said to a club that depends on one person.
pub fn too_few(club: &str, stewards: usize) -> String {
    let has = if stewards == 0 { "no health steward" } else { "one health steward" };
    format!(
        "{club} has {has}. It needs two: whoever keeps the fish, gave them or wrote of them may not sign, and then \
         nobody can."
    )
}

/// "a", "a and b", "a, b and c".
pub fn and(names: impl IntoIterator<Item = String>) -> String {
    let names: Vec<String> = names.into_iter().collect();
    match &names[..] {
        [] => String::new(),
        [one] => one.clone(),
        [some @ .., last] => format!("{} and {last}", some.join(", ")),
    }
}

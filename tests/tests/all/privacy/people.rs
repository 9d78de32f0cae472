//! Who reads: everyone who stands in some relation to a room and a brood, each in one only, with a name that is found
//! wherever it is told.

use serde_json::{Value, json};
use tarn_tests::api::Caller;
use tarn_tests::people::{Club, PASSWORD, Person};

/// A relation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Who {
    /// Has not signed in.
    Stranger,
    /// Has an account and is in no club.
    Outsider,
    /// Is in another club.
    OtherClub,
    /// Is in the breeder's club.
    Member,
    /// Is in another club, and got fish by parcel.
    Holder,
    /// Is in the club, and agreed a swap that was begun by a reply to the notice.
    Partner,
    /// Is in another club, and in the line group.
    InLine,
    /// The same, but has not agreed.
    Asked,
    /// Keeps the home room.
    Breeder,
    /// Keeps it too.
    CoKeeper,
    /// Is a health steward of the room's club, before anything there is in quarantine.
    IdleSteward,
    /// The same one, with a unit of the room in quarantine.
    Steward,
    /// Is a health steward of another club.
    OtherSteward,
    /// Is a secretary of the club.
    Secretary,
}

use Who::*;

/// All who read, in the order of the table.
pub const ALL: [Who; 14] = [
    Stranger,
    Outsider,
    OtherClub,
    Member,
    Holder,
    Partner,
    InLine,
    Asked,
    Breeder,
    CoKeeper,
    IdleSteward,
    Steward,
    OtherSteward,
    Secretary,
];

impl Who {
    /// The column.
    pub fn column(self) -> &'static str {
        match self {
            Stranger => "stranger",
            Outsider => "outsider",
            OtherClub => "other_club",
            Member => "member",
            Holder => "holder",
            Partner => "swap_partner",
            InLine => "in_line_group",
            Asked => "asked_into_it",
            Breeder => "breeder",
            CoKeeper => "co_keeper",
            IdleSteward => "steward_no_unit",
            Steward => "steward",
            OtherSteward => "other_steward",
            Secretary => "secretary",
        }
    }

    /// What they sign in with. In no id, which is hexadecimal, and in no other's.
    pub fn login(self) -> String {
        let of = if self == IdleSteward { Steward } else { self };
        format!("login{}", of.column().replace('_', ""))
    }

    /// What others read.
    pub fn shown(self) -> String {
        let of = if self == IdleSteward { Steward } else { self };
        format!("Shown{}", of.column().replace('_', ""))
    }

    pub fn email(self) -> String {
        format!("{}@example.org", self.login())
    }
}

/// Invites somebody into a club, who accepts.
pub fn invited(club: &Club, who: Who, role: Option<&str>) -> Person {
    let path = format!("/api/v1/clubs/{}/invitations", club.id);
    let invitation = role.map_or(json!({}), |role| json!({"role": role}));
    let token = club.secretary.caller.post(&path, &invitation).expect(201).json()["token"].clone();
    let wanted = json!({"token": token, "login_name": who.login(), "email": who.email(), "shown_name": who.shown(),
        "password": PASSWORD});
    let caller: &Caller = &club.secretary.caller;
    let session = caller.post("/api/v1/invitations/accept", &wanted).expect(201).json();
    let text = |value: &Value| value.as_str().unwrap_or_else(|| panic!("no text in {session}")).to_owned();
    let token = text(&session["access_token"]);
    Person { login: who.login(), account: text(&session["account"]["id"]), caller: caller.with_token(&token) }
}

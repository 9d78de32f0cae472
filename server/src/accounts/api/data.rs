//! The shape of what is handed over of somebody. Each area says what it keeps; here stands what comes of it together.

use utoipa::ToSchema;
use uuid::Uuid;

/// Everything that is kept of an account, but the records of its rooms
#[derive(ToSchema)]
#[schema(example = json!({"made_at": "2026-03-01T09:30:00Z", "account": {"id": "0192f3a4-0000-7000-8000-000000000001",
    "login_name": "mira", "shown_name": "Mira K.", "email": "mira@example.org", "email_proven": true,
    "opened_at": "2026-02-01T08:00:00Z", "sessions": [], "devices": [], "under_age": null, "in_your_care": [],
    "links_by_mail": [], "messages": [], "rooms": []},
    "clubs": {"member_of": [], "lines_of_member_lists": [], "invitations": []},
    "rooms": {"caretaker_of": [], "helpers_links": [], "probes": []}, "lineage": {"line_groups": []}, "parcels": {"notices": [], "lines_written": [], "swaps": []}}))]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct OwnData {
    made_at: String,
    account: KeptOfAccount,
    clubs: KeptOfClubs,
    rooms: KeptOfRooms,
    lineage: KeptOfLineage,
    parcels: KeptOfParcels,
}

/// The account itself
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptOfAccount {
    id: Uuid,
    login_name: String,
    shown_name: String,
    #[schema(required)]
    email: Option<String>,
    email_proven: bool,
    opened_at: String,
    sessions: Vec<KeptSession>,
    devices: Vec<KeptDevice>,
    /// Who answers for somebody under age
    #[schema(required)]
    under_age: Option<KeptYoung>,
    /// Those under age for whom it answers
    in_your_care: Vec<KeptInCare>,
    /// Links in letters that were not used yet
    links_by_mail: Vec<KeptLink>,
    /// The newest
    messages: Vec<KeptMessage>,
    rooms: Vec<KeptRoom>,
}

/// A session
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptSession {
    what: String,
    started_at: String,
    last_seen_at: String,
}

/// A device
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptDevice {
    name: String,
    /// What it writes into
    room: String,
    registered_at: String,
}

/// That somebody is under age
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptYoung {
    guardian: Uuid,
    name: String,
    since: String,
}

/// Somebody under age
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptInCare {
    account: Uuid,
    name: String,
    since: String,
}

/// A link in a letter
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptLink {
    /// What it is good for
    r#for: String,
    email: String,
    made_at: String,
    good_until: String,
}

/// A message
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptMessage {
    text: String,
    made_at: String,
    #[schema(required)]
    read_at: Option<String>,
}

/// A room that the account keeps
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptRoom {
    id: Uuid,
    name: String,
    zone: String,
    /// Where its records are
    records: String,
}

/// What clubs keep
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptOfClubs {
    member_of: Vec<KeptMembership>,
    lines_of_member_lists: Vec<KeptLine>,
    /// Those that the account made or used
    invitations: Vec<KeptInvitation>,
}

/// An invitation into a club
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptInvitation {
    #[schema(required)]
    club: Option<Uuid>,
    made_by_you: bool,
    #[schema(required)]
    email: Option<String>,
    made_at: String,
    #[schema(required)]
    used_at: Option<String>,
}

/// What rooms keep beside their records
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptOfRooms {
    caretaker_of: Vec<KeptCaretaking>,
    helpers_links: Vec<KeptHelpersLink>,
    probes: Vec<KeptProbe>,
}

/// A room that the account is caretaker of
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptCaretaking {
    room: String,
    named_at: String,
    #[schema(required)]
    acting_since: Option<String>,
}

/// A helper's link that the account made
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptHelpersLink {
    room: Uuid,
    r#for: String,
    made_at: String,
    good_until: String,
}

/// A probe that the account made
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptProbe {
    room: Uuid,
    name: String,
    made_at: String,
    good_until: String,
}

/// What lineage keeps
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptOfLineage {
    line_groups: Vec<KeptLineGroup>,
}

/// A line group that the account is in or was asked into
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptLineGroup {
    species: String,
    line: String,
    asked_at: String,
    #[schema(required)]
    joined_at: Option<String>,
}

/// That somebody belongs to a club
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptMembership {
    club: Uuid,
    #[schema(required)]
    name: Option<String>,
    roles: Vec<String>,
}

/// A line of a member list
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptLine {
    club: Uuid,
    #[schema(required)]
    number: Option<String>,
    name: String,
    #[schema(required)]
    email: Option<String>,
    #[schema(required)]
    household: Option<String>,
    guest: bool,
    #[schema(required)]
    paid_until: Option<String>,
    lapsed: bool,
    since: String,
    #[schema(required)]
    left_at: Option<String>,
}

/// What notices, threads and swaps keep
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptOfParcels {
    notices: Vec<KeptNotice>,
    lines_written: Vec<KeptWords>,
    swaps: Vec<KeptSwap>,
}

/// A notice
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptNotice {
    id: Uuid,
    club: Uuid,
    kind: String,
    species: String,
    #[schema(required)]
    form: Option<String>,
    males: i64,
    females: i64,
    unsexed: i64,
    eggs: i64,
    #[schema(required)]
    price_minor: Option<i64>,
    #[schema(required)]
    currency: Option<String>,
    #[schema(required)]
    exchange: Option<String>,
    area: String,
    #[schema(required)]
    remarks: Option<String>,
    state: String,
    made_at: String,
}

/// A line that was written in a thread
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptWords {
    thread: Uuid,
    text: String,
    written_at: String,
}

/// A swap
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeptSwap {
    id: Uuid,
    proposed_by_you: bool,
    #[schema(required)]
    you_give: Option<String>,
    #[schema(required)]
    you_ask: Option<String>,
    state: String,
    made_at: String,
}

/// A JWK set (RFC 7517)
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct KeySet {
    keys: Vec<PublicKey>,
}

/// A public key that access tokens are signed with (RFC 8037)
#[derive(ToSchema)]
#[allow(dead_code, reason = "says what the answer holds")]
pub struct PublicKey {
    kty: String,
    crv: String,
    r#use: String,
    alg: String,
    kid: String,
    x: String,
}

//! A keeper's file in a folder of its own, and ops to put into it.

use serde_json::json;
use tarn_cli::store::{Answer, Answered, NewOp, NewStream, OpState, Pulled, Store, StoreError, StreamRow};
use tarn_domain::catalogue::{Body, Op, op_text, read_op};
use tarn_domain::rooms::ops::{NoteWritten, StockEstablished, StockLost, TankAdded};
use tarn_domain::rooms::words::Cause;
use tarn_domain::rooms::{Count, Node, Row, Sex};
use tarn_domain::state::{EntityState, Memory, RoomText};
use tarn_domain::streams::{
    Acceptance, AccountId, At, Clock, DeviceId, OpId, Received, StockId, StreamId, TankId,
};
use uuid::Uuid;

pub const NOW_MS: i64 = 1_800_000_000_000;

pub struct Place {
    pub folder: tempfile::TempDir,
    pub store: Store,
    pub room: StreamRow,
    pub made: u128,
}

pub fn id(n: u128) -> Uuid {
    uuid::Builder::from_unix_timestamp_millis(
        1_700_000_000_000,
        &n.to_be_bytes()[6..].try_into().expect("ten bytes"),
    )
    .into_uuid()
}

pub fn room_named(store: &mut Store, n: u128, name: &str) -> StreamRow {
    let new = NewStream {
        id: StreamId(id(n)),
        kind: "room".into(),
        name: name.into(),
        zone: "UTC".into(),
        rights: "write".into(),
        device: DeviceId(id(2)),
        on_server: false,
    };
    store.write::<_, StoreError>(|work| work.keep_stream(&new)).expect("kept");
    store.stream(new.id).expect("there")
}

impl Place {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let mut store = Store::open(&folder.path().join("records.sqlite")).expect("a file");
        let room = room_named(&mut store, 1, "Cellar");
        Self { folder, store, room, made: 1000 }
    }

    pub fn next(&mut self) -> Uuid {
        self.made += 1;
        id(self.made)
    }

    pub fn write(&mut self, machine_ms: i64, at: Option<At>, body: Body) -> Result<OpId, StoreError> {
        let op = NewOp { id: OpId(self.next()), at, body };
        let recorded = self.store.write(|work| work.record(&self.room, machine_ms, vec![op]))?;
        Ok(recorded[0].id)
    }

    /// A tank and a stock of ten in it.
    pub fn stock(&mut self) -> (TankId, StockId) {
        let (tank, stock) = (TankId(self.next()), StockId(self.next()));
        self.write(NOW_MS, None, tank_added(tank)).expect("recorded");
        self.write(NOW_MS, None, established(stock, tank, 10)).expect("recorded");
        (tank, stock)
    }

    pub fn total(&self, stock: StockId) -> i64 {
        match self.store.state(&self.room, stock.into()).expect("readable") {
            Some(EntityState::Stock(stock)) => stock.total(),
            _ => 0,
        }
    }

    pub fn text(&self) -> String {
        let mut text = RoomText::default();
        for (entity, state) in self.store.states(&self.room, &[]).expect("readable") {
            text.add(entity, &state);
        }
        text.finish()
    }

    /// What the domain folds from the ops that are here.
    pub fn folded_anew(&self) -> String {
        let mut room = Memory::default();
        let mut ops = Vec::new();
        self.store
            .each_op::<StoreError>(&self.room, |_, out| {
                let value = serde_json::from_str(&out.text).expect("JSON");
                ops.push((read_op(value).expect("an op").op, None, 0));
                Ok(())
            })
            .expect("readable");
        room.add(ops);
        room.text()
    }

    pub fn answer(&mut self, id: OpId, answer: Answer) {
        self.store
            .write::<_, StoreError>(|work| work.answer(&self.room, &[Answered { id, answer }]))
            .expect("taken in");
    }

    pub fn pull(&mut self, first: u64, ops: &[Op], bulk: bool) {
        let room = self.store.stream(self.room.id).expect("there");
        let pulled: Vec<Pulled> = ops.iter().zip(first..).map(|(op, seq)| pulled(seq, op)).collect();
        let chain = pulled.iter().fold(room.chain, |chain, p| chain.then(&p.text, p.accepted));
        self.store
            .write::<_, StoreError>(|work| {
                work.take_in(&room, &pulled, chain, bulk)?;
                work.pulled_all(&room, room.after + u64::try_from(pulled.len()).expect("few"))?;
                work.catch_up(&room)
            })
            .expect("taken in");
    }

    pub fn state_of(&self, op: OpId) -> OpState {
        self.store.op_by_id(&self.room, op).expect("readable").expect("there").state
    }

    pub fn op(&self, op: OpId) -> Op {
        self.store.op_by_id(&self.room, op).expect("readable").expect("there").op.expect("known")
    }
}

pub fn tank_added(tank: TankId) -> Body {
    Body::TankAdded(TankAdded {
        tank,
        name: "A1".into(),
        stand: None,
        shelf: None,
        place: None,
        volume_ml: None,
        displacement_ml: None,
    })
}

pub fn rows(n: u32) -> Vec<Row> {
    vec![Row { node: Node::Unassigned, sex: Sex::Unsexed, n: Count::of(n).expect("few"), about: false }]
}

pub fn established(stock: StockId, tank: TankId, n: u32) -> Body {
    Body::StockEstablished(StockEstablished {
        stock,
        name: Some("Blue".into()),
        keeping: None,
        species: None,
        form: None,
        since: None,
        founders: None,
        rows: rows(n),
        tank: Some(tank),
    })
}

pub fn lost(stock: StockId, n: u32) -> Body {
    Body::StockLost(StockLost { stock, rows: rows(n), cause: Cause::Unknown, reason: None, incident: None })
}

pub fn note(text: &str) -> Body {
    Body::NoteWritten(NoteWritten { stock: None, tank: None, text: text.into() })
}

pub fn foreign(n: u128, ms: i64, body: Body) -> Op {
    let clock = Clock::at_ms(ms);
    Op { id: OpId(id(n)), device: DeviceId(id(3)), clock, at: clock.at(), body }
}

pub fn pulled(seq: u64, op: &Op) -> Pulled {
    Pulled {
        seq,
        text: op_text(op),
        accepted: Acceptance {
            by: AccountId(id(9)).into(),
            received: Received(i64::try_from(seq).expect("small")),
            decision: false,
        },
        receipt: format!("{seq:032x}"),
        was: None,
        blanked: None,
    }
}

pub fn problem(code: &str) -> serde_json::Value {
    json!({ "type": format!("/problems/{code}"), "title": code, "status": 409 })
}

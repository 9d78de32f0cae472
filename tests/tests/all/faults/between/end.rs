//! What must hold of a schedule when nothing is pending any more.

use super::super::ledger::{self, Pulled};
use super::super::world::World;
use super::four::Four;
use super::happened::Happened;
use rand::SeedableRng;
use rand::rngs::StdRng;
use std::collections::{BTreeMap, BTreeSet};
use tarn_domain::parcels::ParcelState;
use tarn_domain::state::{Memory, view};
use tarn_domain::streams::ParcelId;

impl Four {
    /// Nothing acknowledged is lost or doubled, all devices of a room hold the server's bytes, every decision followed,
    /// and no fish was made or lost.
    pub fn check(&mut self, world: &World) -> Result<(), String> {
        self.balance(world)?;
        let mut rooms = Vec::new();
        for (home, devices) in self.by_home() {
            let stream = &self.homes[home].stream;
            let ops = ledger::pull_all(&world.observer.caller, stream)?;
            let ids: BTreeSet<&str> = ops.iter().map(Pulled::id).collect();
            if ids.len() != ops.len() {
                return Err(format!("an op is twice in room {home}"));
            }
            if ops.iter().zip(1..).any(|(op, seq)| op.seq != seq) {
                return Err(format!("the numbers of room {home} have a gap"));
            }
            let memory = ledger::shuffled(&ops, &mut StdRng::seed_from_u64(ops.len() as u64))?;
            let state = memory.text();
            let path = format!("/api/v1/streams/{stream}/state");
            let servers = world.observer.caller.get(&path).expect(200).text;
            if servers != state {
                return Err(format!("the server says of room {home}:\n{servers}\nand its ops say:\n{state}"));
            }
            for at in devices {
                self.kept(at, &ids)?;
                let theirs = self.devices[at].state()?;
                if theirs != state {
                    return Err(format!(
                        "device {at} has another state:\n{theirs}\nthan the server:\n{state}"
                    ));
                }
            }
            rooms.push(memory);
        }
        self.followed(&rooms)
    }

    fn by_home(&self) -> BTreeMap<usize, Vec<usize>> {
        let mut all: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        super::four::DEVICES.iter().enumerate().for_each(|(at, home)| all.entry(*home).or_default().push(at));
        all
    }

    /// What a device acknowledged is on the server, or among what was refused, with its reason.
    /// What waits is in the device's state as what does not count, so it is given up then.
    fn kept(&mut self, at: usize, there: &BTreeSet<&str>) -> Result<(), String> {
        let refused = self.devices[at].refused()?;
        let mut reasons = BTreeMap::new();
        for told in &refused {
            let (Some(id), Some(code)) = (told["id"].as_str(), told["code"].as_str()) else {
                return Err(format!("device {at} gives no reason: {told}"));
            };
            if reasons.insert(id, code).is_some() || there.contains(id) {
                return Err(format!("device {at}: {id} is refused ({code}) and there"));
            }
        }
        for written in self.devices[at].acknowledged() {
            if !there.contains(written.op.as_str()) && !reasons.contains_key(written.op.as_str()) {
                return Err(format!("device {at}: {} is lost ({})", written.op, written.what));
            }
        }
        self.refused += refused.len();
        for id in reasons.keys() {
            self.devices[at].drop_refused(id)?;
        }
        Ok(())
    }

    /// A bag that was handed over has left; and if it came to whom it was for, both rooms know of each other.
    fn followed(&self, rooms: &[Memory]) -> Result<(), String> {
        let sides: Vec<BTreeMap<ParcelId, ParcelState>> = rooms.iter().map(parcels).collect();
        for (from, parcel, side) in
            sides.iter().enumerate().flat_map(|(at, all)| all.iter().map(move |(p, s)| (at, p, s)))
        {
            if side.handed.is_some() && side.sent.is_none() {
                return Err(format!("parcel {parcel} was handed over in room {from} and has not left"));
            }
            let to = side.to_account.map(|to| to.to_string());
            let Some(to) = self.homes.iter().position(|home| to.as_ref() == Some(&home.owner.account)) else {
                continue;
            };
            let came = sides[to].get(parcel).filter(|came| to != from && came.arrived.is_some());
            if let Some(came) = came.filter(|came| came.matched.is_none() || side.received.is_none()) {
                return Err(format!(
                    "parcel {parcel} from room {from} came to room {to}, and they don't know: {side:?} {came:?}"
                ));
            }
        }
        Ok(())
    }

    /// What happened, as the server tells it.
    pub fn happened(&self, world: &World) -> Happened {
        let mut happened = Happened::default();
        let mut rooms = Vec::new();
        for home in &self.homes {
            let ops = ledger::pull_all(&world.observer.caller, &home.stream).expect("it was read before");
            rooms.push((home.owner.account.clone(), ops));
        }
        happened.read(&rooms);
        happened.saw("refused", self.refused);
        happened
    }
}

fn parcels(memory: &Memory) -> BTreeMap<ParcelId, ParcelState> {
    view(memory.states()).parcels.iter().map(|(id, state)| (*id, (*state).clone())).collect()
}

//! Draws together what the library spread out: every layer keeps its order and the room between its members, and each
//! of them moves as near as it can to what it is joined with. So a drawing is no wider than its widest generation.

/// How often the layers are gone through, down and up; last down, so that parents stand under their young.
const SWEEPS: usize = 25;

/// One member of a layer: a brood, or a line that passes. Tenths of a px.
pub struct Member {
    /// Its middle.
    pub x: i32,
    /// How far it reaches to either side.
    pub half: i32,
    /// Whether it is words, which need more room beside them than a line does.
    pub is_words: bool,
}

/// What joins a member of a layer with one of the next.
pub struct Join {
    /// Place in the upper layer.
    pub upper: usize,
    /// Place in the lower layer.
    pub lower: usize,
    /// Where the line leaves the upper one, from its middle.
    pub port: i32,
}

/// The room that is kept.
#[derive(Clone, Copy)]
pub struct Room {
    /// Between words.
    pub apart: i32,
    /// Between a line and its neighbours.
    pub aside: i32,
    /// How much there is, if it is enough.
    pub width: i32,
}

/// Settles all layers; `joins[n]` are those of layer n with the one below it. Gives how wide it has become.
pub fn settle(layers: &mut [Vec<Member>], joins: &[Vec<Join>], room: Room) -> i32 {
    let needed = |layer: &Vec<Member>| {
        layer.iter().map(|m| 2 * m.half).sum::<i32>() + gaps(layer, room).iter().sum::<i32>()
    };
    let width = layers.iter().map(needed).max().unwrap_or(0).max(room.width);
    // the one above the waterline stays where it is seen without moving the frame
    let root = room.width / 2;
    for sweep in 0..SWEEPS {
        let down = sweep % 2 == 0;
        for step in 0..layers.len() {
            let at = if down { step } else { layers.len() - 1 - step };
            let wanted: Vec<i32> = if at == 0 {
                layers[0].iter().map(|_| root).collect()
            } else {
                (0..layers[at].len()).map(|member| wanted(layers, joins, at, member, down)).collect()
            };
            let places = keep_order(&layers[at], &wanted, room, width);
            for (member, x) in layers[at].iter_mut().zip(places) {
                member.x = x;
            }
        }
    }
    width
}

/// Between the neighbours of a layer.
fn gaps(layer: &[Member], room: Room) -> Vec<i32> {
    let between = |pair: &[Member]| if pair.iter().all(|m| m.is_words) { room.apart } else { room.aside };
    layer.windows(2).map(between).collect()
}

/// Where a member would stand if it were alone: amid what it is joined with, above on the way down, below on the way up.
fn wanted(layers: &[Vec<Member>], joins: &[Vec<Join>], at: usize, member: usize, down: bool) -> i32 {
    let above = joins[at - 1].iter().filter(|join| join.lower == member).map(|join| {
        let upper = &layers[at - 1][join.upper];
        upper.x + join.port
    });
    let below = joins.get(at).into_iter().flatten().filter(|join| join.upper == member).map(|join| {
        let lower = &layers[at + 1][join.lower];
        lower.x - join.port
    });
    let (above, below): (Vec<i32>, Vec<i32>) = (above.collect(), below.collect());
    let near = if (down && !above.is_empty()) || below.is_empty() { above } else { below };
    let many = i32::try_from(near.len()).unwrap_or(i32::MAX).max(1);
    near.iter().sum::<i32>() / many
}

/// The places nearest to the wanted ones that keep the order and the room: neighbours that push one another move as
/// one, as far as suits them on average.
fn keep_order(layer: &[Member], wanted: &[i32], room: Room, width: i32) -> Vec<i32> {
    // from here on as if nothing took any room
    let mut offsets = Vec::new();
    let mut offset = layer.first().map_or(0, |m| m.half);
    for (at, member) in layer.iter().enumerate() {
        offsets.push(offset);
        let gap = gaps(&layer[at..layer.len().min(at + 2)], room).first().copied().unwrap_or(0);
        offset += member.half + gap + layer.get(at + 1).map_or(0, |next| next.half);
    }
    let taken = offset;
    let mut groups: Vec<(i64, i64)> = Vec::new();
    for (wanted, offset) in wanted.iter().zip(&offsets) {
        let mut group = (i64::from(wanted - offset), 1);
        while let Some(&(sum, many)) = groups.last() {
            if sum * group.1 <= group.0 * many {
                break;
            }
            groups.pop();
            group = (sum + group.0, many + group.1);
        }
        groups.push(group);
    }
    let spare = i64::from((width - taken).max(0));
    let places =
        groups.into_iter().flat_map(|(sum, many)| (0..many).map(move |_| (sum / many).clamp(0, spare)));
    places.zip(offsets).map(|(place, offset)| i32::try_from(place).unwrap_or(0) + offset).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: Room = Room { apart: 20, aside: 10, width: 400 };

    fn words(x: i32) -> Member {
        Member { x, half: 30, is_words: true }
    }

    #[test]
    fn neighbours_that_want_one_place_share_it_and_keep_their_order() {
        let layer = [words(0), words(0), words(0)];
        assert_eq!(keep_order(&layer, &[200, 200, 200], ROOM, 400), [120, 200, 280]);
        assert_eq!(keep_order(&layer, &[390, 0, 390], ROOM, 400), [155, 235, 370]);
        assert_eq!(keep_order(&layer, &[-90, -90, -90], ROOM, 400), [30, 110, 190]);
    }

    #[test]
    fn young_settle_over_their_parents() {
        let mut layers = vec![vec![words(0)], vec![words(0), words(900)]];
        let join = |lower, port| Join { upper: 0, lower, port };
        let width = settle(&mut layers, &[vec![join(0, -20), join(1, 20)]], ROOM);
        let at: Vec<i32> = layers.iter().flatten().map(|member| member.x).collect();
        assert_eq!((width, at), (400, vec![200, 160, 240]));
    }
}

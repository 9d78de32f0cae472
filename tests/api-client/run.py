"""Two keepers on a started server, by nothing but the client that was made from the API document."""

import pathlib
import sys
import time
import uuid

ROOT = pathlib.Path(__file__).resolve().parents[2]
PLACE = ROOT / "target" / "api-client"
sys.path[:0] = [str(ROOT / "tests" / "api-tester"), str(PLACE)]

from society import PASSWORD, Society, new_id
from tarn_api import AuthenticatedClient, Client
from tarn_api.api.accounts import get_account, get_own_data, sign_in
from tarn_api.api.clubs import accept_invitation, get_club, invite
from tarn_api.api.parcels import agree_to_swap, get_notice, get_swap, get_thread, list_notices, post_notice
from tarn_api.api.parcels import propose_swap, reply_to_notice
from tarn_api.api.quarantine import list_units
from tarn_api.api.rooms import list_rooms, make_room, read_room
from tarn_api.api.streams import list_streams, pull_ops, push_ops, register_device
from tarn_api.models import Agreed, Credentials, DeviceName, Heads, Invitation, NewLine, NewMember, NewRoom, Notice
from tarn_api.models import OpAccepted, OpEnvelope, OpEnvelopeBody, OpRefused, Posted, Problem, Proposed, PulledOps
from tarn_api.models import PushDone, PushedOp, PushedOps, Room, Says, Session, Swap
from tarn_api.types import UNSET


def an_id():
    return uuid.UUID(new_id())


def is_a(kind, answer):
    """Answers of another type fail the run: a problem is told in its words."""
    assert isinstance(answer, kind), f"not a {kind.__name__}: {answer}"
    return answer


def refused(answer, status, code):
    """A problem, as the client reads it."""
    assert answer.status_code == status, answer
    problem = is_a(Problem, answer.parsed)
    assert problem.type_ == f"/problems/{code}" and problem.status == status, problem
    assert problem.title and problem.detail, problem
    return problem


class Keeper:
    """Somebody with an account, signed in."""

    def __init__(self, url, invitation, login):
        stranger = Client(base_url=url, raise_on_unexpected_status=True)
        member = NewMember(token=invitation, login_name=login, shown_name=login.title(), password=PASSWORD)
        made = is_a(Session, accept_invitation.sync(client=stranger, body=member))
        assert made.account.login_name == login and made.expires_in > 0
        wrong = sign_in.sync_detailed(client=stranger, body=Credentials(login_name=login, password="not this one, friend"))
        refused(wrong, 401, "sign-in-failed")
        session = is_a(Session, sign_in.sync(client=stranger, body=Credentials(login_name=login, password=PASSWORD)))
        self.client = AuthenticatedClient(base_url=url, token=session.access_token, raise_on_unexpected_status=True)
        self.account = get_account.sync(client=self.client)
        self.n = 0

    def op(self, device, **body):
        self.n += 1
        now = time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime())
        fields = OpEnvelopeBody.from_dict(body)
        return PushedOp(op=OpEnvelope(id=an_id(), device=device, clock=f"{now}.000Z/{self.n:04x}", at=f"{now}Z", body=fields))

    def push(self, room, *ops):
        return is_a(PushDone, push_ops.sync(room, client=self.client, body=PushedOps(ops=list(ops))))


def keeps_a_room(mira):
    """Makes a room, pushes into it, and pulls what was pushed."""
    room, device, tank, stock = an_id(), an_id(), an_id(), an_id()
    made = is_a(Room, make_room.sync(client=mira.client, body=NewRoom(id=room, name="Cellar", zone="Europe/Oslo")))
    assert (made.stream, made.home_club, made.keepers) == (room, None, UNSET), made
    told = register_device.sync(room, device, client=mira.client, body=DeviceName(name="a phone"))
    assert (told.head, told.device) == (0, device), told
    ops = [
        mira.op(device, op="tank.added", tank=str(tank), name="A1"),
        mira.op(device, op="stock.established", stock=str(stock), tank=str(tank), species="Danio rerio",
                rows=[{"node": "unassigned", "sex": "female", "n": 4}]),
    ]
    done = mira.push(room, *ops)
    assert all(isinstance(result, OpAccepted) for result in done.results), done
    assert [result.seq for result in done.results] == [1, 2] and done.head == 2, done
    # the same id for something else, and a kind that nobody knows
    taken = mira.op(device, op="tank.added", tank=str(an_id()), name="A2")
    taken.op.id = ops[0].op.id
    clash, unknown = mira.push(room, taken, mira.op(device, op="tank.painted", tank=str(tank))).results
    assert is_a(OpRefused, clash).problem.type_ == "/problems/id-taken", clash
    assert (clash.seq, clash.op.body["name"]) == (1, "A1"), clash
    assert is_a(OpRefused, unknown).problem.type_ == "/problems/op-unknown", unknown
    pulled = is_a(PulledOps, pull_ops.sync(room, client=mira.client, epoch=done.epoch, after=0))
    assert [op.op.body["op"] for op in pulled.ops] == ["tank.added", "stock.established"], pulled
    assert all(op.by == mira.account.id and not op.decision and op.receipt for op in pulled.ops), pulled
    assert (pulled.head, pulled.more, len(pulled.chain)) == (2, False, 64), pulled
    read = is_a(Room, read_room.sync(room, client=mira.client))
    assert read.keepers == ["Mira"] and [r.name for r in list_rooms.sync(client=mira.client).rooms] == ["Cellar"], read
    streams = list_streams.sync(client=mira.client)
    assert [(stream.stream, stream.rights) for stream in streams.streams if stream.kind == "room"] == [(room, "write")], streams
    units = list_units.sync(client=mira.client)
    assert all(unit.days > 0 and unit.members for of in units.rooms for unit in of.units), units
    refused(read_room.sync_detailed(an_id(), client=mira.client), 404, "not-found")
    return room


def swap_fish(mira, jonas):
    """A notice, a reply to it, and the swap that comes of it."""
    club = mira.account.clubs[0].id
    assert len(get_club.sync(club, client=mira.client).members) == 2
    says = Says(kind="wanted", species="Danio rerio", area="Upper valley", pickup=True, posting=False,
                numbers=Heads(males=0, females=2, unsexed=0, eggs=0))
    put_up = is_a(Notice, post_notice.sync(client=mira.client, body=Posted(id=an_id(), club=club, notice=says)))
    assert (put_up.mine, put_up.offer, put_up.threads, put_up.price) == (True, None, [], None), put_up
    seen = list_notices.sync(client=jonas.client)
    assert [(notice.id, notice.author, notice.offer) for notice in seen.notices] == [(put_up.id, "Mira", UNSET)], seen
    line = NewLine(id=an_id(), text="I have two to spare.")
    thread = reply_to_notice.sync(put_up.id, client=jonas.client, body=line).thread
    assert [begun.with_ for begun in get_notice.sync(put_up.id, client=mira.client).threads] == ["Jonas"]
    wish = Proposed(id=an_id(), thread=thread, give_words="Two females", ask_words="Java moss")
    proposed = is_a(Swap, propose_swap.sync(client=jonas.client, body=wish))
    assert (proposed.state, proposed.mine, proposed.with_, proposed.pack_for) == ("proposed", True, "Mira", UNSET), proposed
    other = agree_to_swap.sync_detailed(proposed.id, client=jonas.client, body=Agreed())
    refused(other, 403, "swap-other-side")
    read = is_a(Swap, get_swap.sync(proposed.id, client=mira.client))
    assert (read.mine, read.give, read.own_parcel) == (False, [], None), read
    talk = get_thread.sync(thread, client=mira.client)
    assert [(said.by, said.text) for said in talk.lines] == [("Jonas", "I have two to spare.")], talk
    assert [swap.swap for swap in talk.swaps] == [read.id] and talk.notice == put_up.id, talk


def main():
    society = Society(sys.argv[1], PLACE)
    try:
        mira = Keeper(society.url, society.invitation, "mira")
        room = keeps_a_room(mira)
        invited = invite.sync(mira.account.clubs[0].id, client=mira.client, body=Invitation())
        jonas = Keeper(society.url, invited.token, "jonas")
        refused(read_room.sync_detailed(room, client=jonas.client), 404, "not-found")
        swap_fish(mira, jonas)
        kept = get_own_data.sync(client=mira.client)
        assert [of.name for of in kept.account.rooms] == ["Cellar"] and kept.parcels.notices, kept
        refused(read_room.sync_detailed(room, client=Client(base_url=society.url)), 401, "not-signed-in")
        alive = society.server.poll() is None
    finally:
        ended = society.stop()
    print("The client that was made from the document did all it was asked.")
    sys.exit(0 if alive and ended == 0 else 1)


main()

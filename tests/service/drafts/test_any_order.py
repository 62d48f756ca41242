"""Whatever two people do in whatever order: what is published stays, and nobody approves their own work."""

import hashlib
import tempfile
from collections import defaultdict
from pathlib import Path

import hypothesis
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, invariant, multiple, rule
from sqlmodel import Session

from conftest import settings_in
from service import small
from service.shop import Shop
from snapline.offline import RevisionFile
from snapline_service import database
from snapline_service.access.people import Person
from snapline_service.catalogue import draft_store, store
from snapline_service.catalogue.documents import canonical, from_json
from snapline_service.catalogue.tables import DraftRow
from snapline_service.database import reading, writing
from snapline_service.drafts import drafts, publishing, rebasing, review
from snapline_service.errors import SnaplineError
from snapline_service.revisions import revision_files, supplement

PEOPLE = st.sampled_from(["Ada", "Ben"])
CARS = st.sampled_from(["ambrel-2020", "brenn-2021", "carver-2022"])


class Office(RuleBasedStateMachine):
    """Two holders who may both edit and review."""

    drafts = Bundle("drafts")

    @initialize(target=drafts, small_files=st.booleans())
    def open(self, small_files: bool) -> str:
        self.small = (supplement.SMALL, supplement.SHARE)
        if small_files:
            supplement.SMALL, supplement.SHARE = 0, 10.0
        self.folder = tempfile.TemporaryDirectory()
        place = Path(self.folder.name)
        self.settings = settings_in(place, f"sqlite:///{place}/snapline.db")
        database.migrate(self.settings.database)
        self.engine = database.connect(self.settings.database)
        self.shop = Shop(self.engine, self.settings, place / "files", "north")
        self.shop.put(small.catalogue())
        self.people = {}
        for name in ("Ada", "Ben"):
            key = self.shop.key("edit", "review", holder=name)
            self.people[name] = Person(key.holder_id, name)
        self.editors: dict[str, set[str]] = defaultdict(set)
        self.seen: dict[int, str] = {}
        return str(self.begin("Ada"))

    @rule(target=drafts, who=PEOPLE)
    def begin(self, who: str) -> str:
        with writing(self.engine) as session:
            return drafts.begin(session, self.shop.group_id, self.people[who]).id

    @rule(target=drafts, who=PEOPLE, number=st.integers(1, 4))
    def restore(self, who: str, number: int) -> object:
        try:
            with writing(self.engine) as session:
                name = drafts.restore(session, self.shop.group_id, self.people[who], number, "back").id
        except SnaplineError:
            return multiple()
        self.editors[name].add(who)
        return name

    @rule(draft=drafts, who=PEOPLE, car=CARS, distance_mm=st.integers(2400, 2404))
    def edit(self, draft: str, who: str, car: str, distance_mm: int) -> None:
        document, _ = from_json(small.vehicle(car, distance_mm))
        assert document
        self._put(draft, who, car, canonical(document))

    @rule(draft=drafts, who=PEOPLE, car=CARS)
    def retire(self, draft: str, who: str, car: str) -> None:
        self._put(draft, who, car, None)

    def _put(self, draft: str, who: str, car: str, body: bytes | None) -> None:
        try:
            with writing(self.engine) as session:
                row = drafts.found(session, self.shop.group_id, draft, to_change=True)
                drafts.put(session, row, self.people[who], kind="vehicle", name=car, body=body)
        except SnaplineError:
            return
        self.editors[draft].add(who)

    @rule(draft=drafts, who=PEOPLE, act=st.sampled_from(["submit", "approve", "send_back", "rebase", "drop"]))
    def act(self, draft: str, who: str, act: str) -> None:
        person = self.people[who]
        try:
            with writing(self.engine) as session:
                row = drafts.found(session, self.shop.group_id, draft, to_change=True)
                if act == "submit":
                    review.submit(session, row, person, text="", given=(), published=self._path(session))
                elif act == "approve":
                    review.approve(session, row, person)
                    assert who not in self.editors[draft], "nobody approves their own work"
                elif act == "send_back":
                    review.send_back(session, row, person, "no")
                elif act == "rebase":
                    rebasing.rebase(session, row, person)
                else:
                    drafts.drop(session, row, person)
        except SnaplineError:
            return

    def _path(self, session: Session) -> Path:
        newest = store.newest_revision(session, self.shop.group_id)
        assert newest
        return self.shop.path(newest.number)

    @rule(draft=drafts, who=PEOPLE, take=st.sampled_from(["draft", "published"]))
    def settle(self, draft: str, who: str, take: str) -> None:
        with writing(self.engine) as session:
            row = drafts.found(session, self.shop.group_id, draft, to_change=True)
            for conflict in draft_store.conflicts(session, draft, still_open=True):
                try:
                    rebasing.choose(session, row, self.people[who], conflict.number, take=take, value=None)
                except SnaplineError:
                    continue
                self.editors[draft].add(who)

    @rule(draft=drafts, who=PEOPLE)
    def publish(self, draft: str, who: str) -> None:
        person = self.people[who]

        def agreed(session: Session, row: DraftRow) -> str:
            return review.agreed(session, row, person)

        try:
            ready = publishing.prepare(
                self.engine, self.settings, group_id=self.shop.group_id, draft_id=draft, agreed=agreed
            )
            with writing(self.engine) as session:
                number = publishing.commit(session, ready, person, agreed).number
                origin = store.origin(session, self.shop.group_id, number)
                assert origin
                assert origin.how == "reviewed"
                assert origin.reviewed_by not in self.editors[draft]
        except SnaplineError:
            return
        revision_files.prune(self.settings.data_folder, self.shop.group_id, number, 2)

    @rule(draft=drafts, who=PEOPLE)
    def agree(self, draft: str, who: str) -> None:
        """Have somebody submit a draft, and the other one approve and publish it, as far as they may."""
        other = "Ben" if who == "Ada" else "Ada"
        self.act(draft, who, "rebase")
        self.settle(draft, who, "published")
        self.act(draft, who, "submit")
        self.act(draft, other, "approve")
        self.publish(draft, other)

    @rule(target=drafts, who=PEOPLE, car=CARS, distance_mm=st.integers(2400, 2404))
    def correct(self, who: str, car: str, distance_mm: int) -> str:
        """Change a car and have it agreed to."""
        draft = str(self.begin(who))
        self.edit(draft, who, car, distance_mm)
        self.agree(draft, who)
        return draft

    @invariant()
    def what_is_published_stays_byte_for_byte(self) -> None:
        if not hasattr(self, "engine"):
            return
        with reading(self.engine) as session:
            newest = store.newest_revision(session, self.shop.group_id)
            assert newest
            for number in range(1, newest.number + 1):
                row = store.revision(session, self.shop.group_id, number)
                origin = store.origin(session, self.shop.group_id, number)
                assert row
                assert origin
                entries = list(store.entries(session, self.shop.group_id, number))
                bodies = list(store.bodies(session, self.shop.group_id, [e.hash for e in entries]))
                told = f"{row.model_dump()} {origin.model_dump()} {entries} {bodies}"
                print_ = hashlib.sha256(told.encode()).hexdigest()
                assert self.seen.setdefault(number, print_) == print_, f"revision {number} changed"
            file = RevisionFile(self.shop.path(newest.number))
            assert file.manifest_hash == newest.manifest_hash
            file.close()

    def teardown(self) -> None:
        if hasattr(self, "engine"):
            self.engine.dispose()
            supplement.SMALL, supplement.SHARE = self.small
            self.folder.cleanup()


TestOffice = Office.TestCase
TestOffice.settings = hypothesis.settings(
    max_examples=20, stateful_step_count=25, deadline=None, suppress_health_check=list(hypothesis.HealthCheck)
)

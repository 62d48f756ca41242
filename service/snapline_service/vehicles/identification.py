"""Find out which vehicle it is and what is fitted to it."""

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime

import msgspec
from msgspec import Struct

from snapline.offline import RevisionFile, sort_words
from snapline.wire import vehicles as wire
from snapline.wire.catalogue import Condition
from snapline.wire.vehicles import Candidate, Fitted, IdentifyRequest, Question, Vehicle, VehicleQuery
from snapline_service import cautions
from snapline_service.errors import BadInput, Fault
from snapline_service.faults import nearest, pointer
from snapline_service.vehicles import asking, questions, vin, vpic
from snapline_service.vehicles.asking import Subject
from snapline_service.vehicles.equipment import Equipment
from snapline_service.vehicles.summary import vehicle_summary
from snapline_service.vehicles.vin import DecodedVin

# More candidates than this are not told apart by questions: a model or a year narrows them first.
MOST_CANDIDATES = 300
MOST_LISTED = 50


class Found(Struct):
    """The subjects that are left, the facts that they agree with, and notes on what could not be used."""

    subjects: list[Subject]
    because: list[str]
    notes: list[str]

    def keep(self, fact: str, agrees: Callable[[Subject], bool]) -> None:
        """Keep the subjects that agree with a fact, and note the fact that leaves none."""
        left = [subject for subject in self.subjects if agrees(subject)]
        if self.subjects and not left:
            self.notes.append(f"No vehicle agrees with {fact} and everything before it.")
        self.because.append(fact)
        self.subjects = left


def identify(file: RevisionFile, request: IdentifyRequest) -> wire.Identification:
    """Return the candidates and the fewest questions that settle which one it is.

    Raises InvalidVin, and BadInput if neither a VIN nor a make is given or an answer to yes or no is neither.
    """
    _require_yes_or_no(request.answers)
    if not request.vin and not request.make:
        detail = "There is nothing to start from."
        raise BadInput([Fault("/vin", detail, "Give a VIN or a make.", "MISSING_FIELD")])
    decoded = vin.decode(request.vin) if request.vin else None
    hint = vpic.hint(decoded) if decoded else None
    found = _find(file, request, decoded, hint)
    _narrow(found, request, decoded)
    total = len(found.subjects)
    too_many = total > MOST_CANDIDATES
    if too_many:
        found.notes.append(f"More than {MOST_CANDIDATES} vehicles agree: give a model, a year or a market.")
    separation = _separate([] if too_many else found.subjects, request)
    vehicles = [subject.vehicle for subject in found.subjects[:MOST_LISTED]]
    sources = {source.id: source for vehicle in vehicles for source in vehicle.sources}
    return wire.Identification(
        vin=_decoded(decoded, hint, found.subjects) if decoded else None,
        candidates=tuple(_candidate(subject, found.because) for subject in found.subjects[:MOST_LISTED]),
        candidates_total=total,
        questions=_questions(found.subjects, separation, request),
        method=separation.method if total > 1 and not too_many else "none",
        inseparable=separation.inseparable,
        notes=tuple(found.notes),
        catalogue_revision=file.revision,
        sources=tuple(sources.values()),
        cautions=cautions.for_work([], [], []),
    )


def _require_yes_or_no(answers: Mapping[str, str]) -> None:
    """Refuse a slip in an answer to whether an option is fitted: it would look like an unknown car."""
    faults = [
        Fault(
            pointer(["answers", question]),
            f"'{answer}' is neither yes nor no.",
            "Give yes, no or cannot_tell.",
        )
        for question, answer in answers.items()
        if question.startswith("option:") and answer not in ("yes", "no", wire.CANNOT_TELL)
    ]
    if faults:
        raise BadInput(faults)


def _find(
    file: RevisionFile, request: IdentifyRequest, decoded: DecodedVin | None, hint: vpic.VpicHint | None
) -> Found:
    """Start from the VIN's pattern, else from make and model, else from what public data say of the VIN."""
    found = Found([], [], [])
    vehicles: list[Vehicle] = []
    if decoded:
        if decoded.doubt:
            found.notes.append(f"{decoded.doubt.detail} {decoded.doubt.mend}")
        vehicles = _by_pattern(file, decoded)
        found.because.append("the VIN's pattern")
    if not vehicles:
        if decoded:
            found.notes.append("No vehicle of the catalogue has a pattern that this VIN matches.")
        make = request.make or (hint.make if hint else None)
        model = request.model or (hint.model if hint and not request.make else None)
        found.because = [] if request.make else ["what public data say of the VIN"]
        vehicles = _by_name(file, make, model, found.notes) if make else []
    found.subjects = [_subject(vehicle, decoded, request) for vehicle in vehicles]
    return found


def _by_pattern(file: RevisionFile, decoded: DecodedVin) -> list[Vehicle]:
    names = dict.fromkeys(
        row.vehicle_id for row in file.vin_patterns(decoded.wmi) if vin.matches(row.pattern, decoded.vin)
    )
    return [vehicle for name in names if (vehicle := file.get_vehicle(name))]


def _by_name(file: RevisionFile, make: str, model: str | None, notes: list[str]) -> list[Vehicle]:
    vehicles: list[Vehicle] = []
    query = VehicleQuery(make=make, model=model, page_size=200)
    while len(vehicles) <= MOST_CANDIDATES:
        page = file.list_vehicles(query)
        vehicles += [vehicle for item in page.items if (vehicle := file.get_vehicle(item.id))]
        if page.next_page_token is None:
            break
        query = VehicleQuery(make=make, model=model, page_size=200, page_token=page.next_page_token)
    if not vehicles:
        known = file.models(make) if model else []
        what, name = ("model", model) if known else ("make", make)
        notes.append(f"The catalogue has no {what} '{name}'. {nearest(name, known or file.makes())}")
    return vehicles


def _subject(vehicle: Vehicle, decoded: DecodedVin | None, request: IdentifyRequest) -> Subject:
    equipment = Equipment(vehicle)
    for pattern in vehicle.vin_patterns if decoded else ():
        if decoded and vin.matches(pattern.pattern, decoded.vin):
            equipment.state_all(pattern.fitted, pattern.absent, "The VIN says so.")
    for code in vehicle.build_codes:
        if code.code in request.build_codes:
            equipment.state_all(code.fitted, code.absent, f"Build code {code.code} says so.")
    last = vehicle.model_year_last or datetime.now(UTC).year + 1
    years = tuple(range(vehicle.model_year_first, last + 1))
    if request.model_year:
        years = tuple(year for year in years if year == request.model_year)
    elif decoded and not decoded.year_is_hint:
        said = vin.decode(decoded.vin, light_vehicle=vehicle.light_vehicle).model_years
        years = tuple(year for year in years if year in said)
    return Subject(vehicle, equipment, years)


def _narrow(found: Found, request: IdentifyRequest, decoded: DecodedVin | None) -> None:
    """Hold the subjects against every other fact, the surest first."""
    if request.make:
        make = sort_words(request.make)
        found.keep(f"make {request.make}", lambda s: sort_words(s.vehicle.make) == make)
    if request.model:
        model = sort_words(request.model)
        found.keep(f"model {request.model}", lambda s: sort_words(s.vehicle.model) == model)
    if request.model_year:
        found.keep(f"model year {request.model_year}", lambda s: bool(s.years))
    elif decoded and not decoded.year_is_hint:
        found.keep("the VIN's model year", lambda s: bool(s.years))
    if request.market:
        found.keep(f"market {request.market}", lambda s: request.market in s.vehicle.markets)
    if request.drive_side:
        found.keep(f"drive side {request.drive_side}", lambda s: s.vehicle.drive_side == request.drive_side)
    _narrow_by_codes(found, request)
    _narrow_by_answers(found, request)


def _narrow_by_codes(found: Found, request: IdentifyRequest) -> None:
    known = {code.code for subject in found.subjects for code in subject.vehicle.build_codes}
    unknown = [code for code in request.build_codes if code not in known]
    if unknown:
        found.notes.append(f"No candidate knows these build codes: {', '.join(unknown)}.")
    if set(request.build_codes) & known:
        clash = next((s.equipment.contradiction for s in found.subjects if s.equipment.contradiction), None)
        if clash:
            found.notes.append(f"Build codes and VIN contradict each other: {clash}")
        found.keep("the build codes", lambda s: s.equipment.contradiction is None)


def _narrow_by_answers(found: Found, request: IdentifyRequest) -> None:
    possible = asking.possible_answers(found.subjects)
    known = {question for own in possible.values() for question in own}
    for question, answer in request.answers.items():
        if question not in known:
            found.notes.append(f"'{question}' is not a question about these candidates.")
        elif answer != wire.CANNOT_TELL:
            left = questions.narrow(possible, {question: answer})
            found.keep(f"the answer {question} = {answer}", lambda s, left=left: s.vehicle.id in left)  # type: ignore[misc] # the default binds now
            for subject in found.subjects:
                _take_answer(subject, question, answer)


def _take_answer(subject: Subject, question: str, answer: str) -> None:
    kind, _, name = question.partition(":")
    said = f"The answer to {question} says so."
    if kind == "choice" and answer in subject.equipment.members(name):
        subject.equipment.state(answer, fitted=True, because=said)
    elif kind == "option" and any(option.id == name for option in subject.vehicle.options):
        subject.equipment.state(name, fitted=answer == "yes", because=said)


def _separate(subjects: Sequence[Subject], request: IdentifyRequest) -> questions.Separation:
    possible = asking.possible_answers(subjects)
    return questions.separate(possible, asking.order(possible), request.answers)


def _questions(
    subjects: Sequence[Subject], separation: questions.Separation, request: IdentifyRequest
) -> tuple[Question, ...]:
    """Ask first which vehicle it is; only then what is fitted to it, where something depends on it."""
    possible = asking.possible_answers(subjects)
    if separation.questions:
        return tuple(
            asking.word(name, subjects, sorted(_all_answers(possible, name)), "vehicle")
            for name in separation.questions
        )
    decisive = dict.fromkeys(
        name for s in subjects[:MOST_LISTED] for name in _open_equipment(s) if name not in request.answers
    )
    return tuple(
        asking.word(name, subjects, sorted(_all_answers(possible, name)), "equipment") for name in decisive
    )


def _all_answers(possible: dict[str, dict[str, frozenset[str]]], question: str) -> frozenset[str]:
    return frozenset().union(*(own.get(question, frozenset()) for own in possible.values()))


def _open_equipment(subject: Subject) -> list[str]:
    """Return the equipment questions that are open and decide about a system or a requirement."""
    decisive = subject.equipment.decisive()
    return [
        f"choice:{option.choice}" if option.choice else f"option:{option.id}"
        for option in subject.vehicle.options
        if option.id in decisive and subject.equipment.of(option.id).fitted == "unknown"
    ]


def _candidate(subject: Subject, because: list[str]) -> Candidate:
    vehicle, equipment = subject.vehicle, subject.equipment
    return Candidate(
        vehicle=vehicle_summary(vehicle, vehicle.changed_in_revision),
        because=tuple(because),
        options=tuple(
            Fitted(id=option.id, name=option.name, fitted=known.fitted, because=known.because)
            for option in vehicle.options
            for known in [equipment.of(option.id)]
        ),
        systems=tuple(
            Fitted(
                id=system.id,
                name=system.name,
                fitted=equipment.holds(system.fitted_when),
                because=_reason(system.fitted_when, equipment),
            )
            for system in vehicle.systems
        ),
    )


def _reason(condition: Condition | None, equipment: Equipment) -> str:
    if condition is None:
        return "Every vehicle of this entry has it."
    names = [*condition.all_of, *condition.any_of, *condition.none_of]
    return "It depends on " + ", ".join(f"{name} ({equipment.of(name).fitted})" for name in names) + "."


def _decoded(decoded: DecodedVin, hint: vpic.VpicHint | None, subjects: Sequence[Subject]) -> wire.DecodedVin:
    weights = {subject.vehicle.light_vehicle for subject in subjects}
    if len(weights) == 1:
        decoded = vin.decode(decoded.vin, light_vehicle=weights.pop())
    return wire.DecodedVin(
        wmi=decoded.wmi,
        region=decoded.region,
        check_digit=decoded.check_digit,
        expected_check_digit=decoded.expected_check_digit,
        model_years=decoded.model_years,
        model_year_is_hint=decoded.year_is_hint,
        maker_hint=msgspec.convert(hint, wire.VinHint, from_attributes=True) if hint else None,
    )

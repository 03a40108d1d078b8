"""The rulebook: the task rules, windows, cautions and wordings of one crop programme."""

from collections.abc import Mapping
from functools import cached_property
from graphlib import TopologicalSorter
from typing import Annotated, Any, Literal

from pydantic import Field

from reminder_service.kinds import Kind
from reminder_service.rules.bounds import DONE, Bound, Counted, Strict, leaves
from reminder_service.rules.errors import UnknownChoice
from reminder_service.rules.labour import Labour
from reminder_service.rules.needs import CupNeed, Need

NAME_PATTERN = r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$"
SETTING_NAME_PATTERN = r"^[a-z][a-z0-9_]*$"
WORDS_PATTERN = r"^[^\W\d_A-Z]+( [^\W\d_A-Z]+)*$"

STAND_FACTS = frozenset({Kind.PLANTED, Kind.GERMINATED, Kind.TASSELLED, Kind.HARVESTED})
"""What happens to a stand; rain falls without one."""

Text = Annotated[str, Field(min_length=1)]
Name = Annotated[str, Field(pattern=NAME_PATTERN)]
SettingName = Annotated[str, Field(pattern=SETTING_NAME_PATTERN)]
Words = Annotated[str, Field(pattern=WORDS_PATTERN)]
FactName = Literal["first-rain", "planted", "germinated", "tasselled", "harvested"]
MaizeClass = Literal["short", "medium", "long"]
ReminderStage = Literal["getting-ready", "opens", "nudge", "last-call"]
TextStage = Literal["getting-ready", "opens", "nudge", "last-call", "correction"]


class Head(Strict):
    """What the rulebook is."""

    name: Name = Field(description="Short name, e.g. maize-hand-hoe.")
    version: int = Field(ge=1, description="Grows by one with each change.")
    title: Text = Field(description="What coordinators call it.")
    crop: Text = Field(description="The crop it is for.")


class Setting(Strict):
    """A number of days that a programme may change."""

    days: int = Field(ge=0)
    source: Text = Field(description="A published source, or: setting.")


class Spread(Strict):
    """Days from one fact to another, with how far they may lie apart."""

    earliest: int
    likely: int
    latest: int


class EstimateRule(Strict):
    """How a date that nobody reported is estimated; the first rule that applies counts."""

    fact: FactName = Field(description="What is estimated.")
    start: FactName = Field(alias="from", description="What it is counted from.")
    days: Spread
    when: Mapping[Name, Text] = Field(
        default_factory=dict, description="Choices of the plot that it holds for."
    )
    degree_days: MaizeClass | None = Field(
        default=None,
        description="Class of maize whose degree days are counted instead of days, where the "
        "usual temperatures of the ward are known.",
    )
    source: Text = Field(
        description="A published source, or: common practice, no source; or: setting."
    )
    question: Text | None = Field(
        default=None, description="Asks the farmer for the date; left out, nobody is asked."
    )
    importance: int = Field(default=3, ge=1, le=9, description="Of the question; 1 is most.")


class AfterFalseStart(Strict):
    """How a farmer is asked whether a stand survived the dry days of a false start."""

    question: Text = Field(description="Asks the farmer; YES, NO and REPLANTED answer it.")
    importance: int = Field(default=2, ge=1, le=9, description="Of the question; 1 is most.")
    days: int = Field(ge=1, description="Days after the dry ones that it is worth asking.")
    source: Text = Field(
        description="A published source, or: common practice, no source; or: setting."
    )


class Repeat(Strict):
    """A task that comes again."""

    every_days: int = Field(ge=1)
    count: int | None = Field(default=None, ge=1, description="Most rounds.")
    until: Bound | None = Field(
        default=None, description="Last day that a round may be due or still be open on."
    )


class Reminder(Strict):
    """When one reminder of a task goes out."""

    stage: ReminderStage
    start: Literal["opens", "due", "closes"] = Field(alias="from")
    days: int = Field(default=0, description="Days after it; below 0 for before.")


class TaskRule(Strict):
    """One task of the programme: its window, its reminders, its wording."""

    name: Name
    title: Text = Field(description="A noun, as it begins a line, e.g. Thinning.")
    importance: int = Field(ge=1, le=9, description="1 is most.")
    words: tuple[Words, ...] = Field(
        min_length=1, strict=False, description="Words by which a farmer names it."
    )
    chemical: bool = Field(default=False, description="Whether it may lead to a chemical.")
    answered_by: Literal["count", "borer-count"] | None = Field(
        default=None, description="A report that settles it like done, once it is open."
    )
    act_above: int | None = Field(
        default=None,
        ge=0,
        le=100,
        description="Damaged plants of 100 above which the farmer is sent to the adviser.",
    )
    while_wet: bool = Field(
        default=False,
        description="Whether reminders wait on days when the soil is known to be too dry for "
        "weeds to come up.",
    )
    only_with: Mapping[Name, Annotated[tuple[Text, ...], Field(min_length=1, strict=False)]] = (
        Field(default_factory=dict, description="Choices of the plot that it belongs to.")
    )
    opens: Bound
    due: Bound
    closes: Bound
    repeat: Repeat | None = None
    for_each: Name | None = Field(
        default=None, description="A repeated task: one round for each of its rounds."
    )
    need: Need | None = Field(
        default=None, description="What one station takes; texts then may say {amount}."
    )
    labour: Labour | None = Field(default=None, description="How long it takes.")
    caution: Text | None = Field(default=None, description="Sent after every text of the task.")
    source: Text = Field(
        description="A published source, or: common practice, no source; or: setting."
    )
    reminders: tuple[Reminder, ...] = Field(default=(), strict=False)
    texts: Mapping[TextStage, Text] = Field(default_factory=dict)

    @property
    def bounds(self) -> dict[str, Bound]:
        """Its bounds by place: opens, due, closes, and repeat.until if it has one."""
        found = {"opens": self.opens, "due": self.due, "closes": self.closes}
        if self.repeat is not None and self.repeat.until is not None:
            found["repeat.until"] = self.repeat.until
        return found

    @cached_property
    def own_order(self) -> tuple[str, ...]:
        """Its opens, due and closes, each after those of them that it is counted from."""
        own = {f"{self.name}.{field}": field for field in ("opens", "due", "closes")}
        graph = {
            field: [own[leaf.start] for leaf in _counted(self.bounds[field]) if leaf.start in own]
            for field in own.values()
        }
        return tuple(TopologicalSorter(graph).static_order())

    @cached_property
    def wordings(self) -> Mapping[str, str]:
        """Its texts by stage."""
        return {stage: text for stage, text in self.texts.items()}

    @property
    def most_segments(self) -> int:
        """Segments that a text of it may take: two where the caution is about a chemical."""
        return 2 if self.chemical or isinstance(self.need, CupNeed) else 1

    @property
    def written(self) -> Mapping[str, str]:
        """Every text of it that a farmer may read, by what it is for."""
        caution = {} if self.caution is None else {"caution": self.caution}
        return {"title": self.title, **caution, **self.wordings}

    @property
    def leans_on(self) -> frozenset[str]:
        """Other tasks whose days it is counted from, or whose rounds it follows."""
        starts = (leaf.start for bound in self.bounds.values() for leaf in _counted(bound))
        pairs = (start.partition(".") for start in starts)
        tasks = {name for name, dot, field in pairs if dot and field != DONE}
        return frozenset((tasks | {self.for_each or self.name}) - {self.name})


class Rulebook(Strict):
    """A whole rulebook."""

    head: Head = Field(alias="rulebook")
    settings: Mapping[SettingName, Setting]
    choices: Mapping[Name, Annotated[tuple[Text, ...], Field(min_length=1, strict=False)]] = Field(
        default_factory=dict, description="What a plot may choose; the first value is the default."
    )
    estimates: tuple[EstimateRule, ...] = Field(default=(), strict=False)
    after_false_start: AfterFalseStart | None = Field(
        default=None, description="Left out, nobody is asked whether a stand survived."
    )
    tasks: tuple[TaskRule, ...] = Field(min_length=1, strict=False)

    @cached_property
    def label(self) -> str:
        """Name and version, e.g. ``maize-hand-hoe 1``."""
        return f"{self.head.name} {self.head.version}"

    @cached_property
    def by_name(self) -> Mapping[str, TaskRule]:
        """Tasks by name."""
        return {task.name: task for task in self.tasks}

    @cached_property
    def order(self) -> tuple[TaskRule, ...]:
        """Tasks, each after those that it leans on."""
        graph = {task.name: sorted(task.leans_on) for task in self.tasks}
        return tuple(self.by_name[name] for name in TopologicalSorter(graph).static_order())

    @cached_property
    def about_the_stand(self) -> frozenset[str]:
        """Tasks counted from planting or from what comes after it, or from such tasks."""
        found: set[str] = set()
        for task in self.order:
            starts = {leaf.start for bound in task.bounds.values() for leaf in _counted(bound)}
            if starts & STAND_FACTS or found & task.leans_on:
                found.add(task.name)
        return frozenset(found)

    @cached_property
    def setting_days(self) -> Mapping[str, int]:
        """Days of each setting, and under ``-name`` the same days counted back."""
        forward = {name: setting.days for name, setting in self.settings.items()}
        return {**forward, **{f"-{name}": -days for name, days in forward.items()}}

    @cached_property
    def rules_by_estimate(self) -> tuple[tuple[Kind, Kind, EstimateRule], ...]:
        """Each estimate's rule with its fact and what that is counted from, in file order."""
        return tuple((Kind(rule.fact), Kind(rule.start), rule) for rule in self.estimates)

    def chosen(self, choices: Mapping[str, str]) -> dict[str, str]:
        """A plot's value of every choice, the default where the plot has none.

        Parameters
        ----------
        choices : the plot's choices; names that this rulebook does not know are left out

        Returns
        -------
        the values by name

        Raises
        ------
        UnknownChoice
            A value is not one of the rulebook's.
        """
        values = {name: choices.get(name, known[0]) for name, known in self.choices.items()}
        for name, value in values.items():
            if value not in self.choices[name]:
                raise UnknownChoice(name, value, self.choices[name])
        return values


def rulebook_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a rulebook file, for editors.

    Returns
    -------
    the schema
    """
    schema = Rulebook.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def _counted(bound: Bound) -> list[Counted]:
    return [leaf for _, leaf in leaves(bound)]

"""Taking in a file: name it, see what it would add, and only then save it; a long one says how far it is."""

from __future__ import annotations

from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from sandlab.errors import SandlabError
from sandlab.lab.facts import ImportFacts
from sandlab.lab.importing import facts_of, prepare, save
from sandlab.lab.opening import open_lab, system_clock
from sandlab.screens.base import station, styled
from sandlab.screens.modals import Panel, problem_words
from sandlab.screens.text_field import TextField

if TYPE_CHECKING:
    from sandlab.exchange import Tell
    from sandlab.lab.importing import Prepared
    from sandlab.screens.desk import Work

WIDEST = 96


class FileField(TextField):
    """The line for the name of the file; its keys say what they do here."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "screen.enter", "See what it would add"),
        Binding("pagedown", "screen.turn(1)", "Page"),
    ]


class ImportBox(Panel[str | None]):
    """Returns what became of it, in a sentence."""

    HEADING = "Take in a file: old workbook, OpenDocument sheet, text table or export"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("f6", "save", "Save it"),
        Binding("down", "move(1)", "More", show=False),
        Binding("up", "move(-1)", "Back up", show=False),
        Binding("pageup", "turn(-1)", "Page back", show=False),
        Binding("escape", "leave", "Back"),
    ]

    def __init__(self) -> None:
        super().__init__()
        self.prepared: Prepared | None = None
        self.facts: ImportFacts | None = None
        self.work: Work | None = None
        self.doing = ""
        self.told = "Where the file is, for example /media/stick/sand_2025.xlsx"
        self.top = 0

    def content(self) -> ComposeResult:
        """The name of the file, then what it would add."""
        yield FileField(max_length=300, id="answer")
        yield Static(self.told, id="import-text")

    def on_mount(self) -> None:
        """Show how far the work is."""
        self.set_interval(0.2, self.show_progress)

    def show_progress(self) -> None:
        """What is being done, and the share of it."""
        if self.work is not None:
            share = f" {self.work.share:.0%}" if self.work.share else ""
            self.query_one("#import-text", Static).update(f"{self.doing}{share}; Esc breaks it off")

    def action_enter(self) -> None:
        """The dry run of the file that is named."""
        written = self.query_one("#answer", TextField).value.strip().strip("\"'")
        if not written or self.work is not None:
            return
        here = station(self)
        folder, system, by = here.desk.folder, here.desk.system, here.technician
        clock, path = here.desk.clock or system_clock, Path(written).expanduser()
        self.facts = self.prepared = None
        self.top = 0

        def work(step: Work) -> Prepared:
            lab = open_lab(folder, system=system, clock=clock)
            try:
                return prepare(lab, path, by=by, tell=self.teller(step))
            finally:
                lab.close()

        self.work = here.desk.beside(self, work, self.know, failed=self.refused)

    def teller(self, step: Work) -> Tell:
        """What the import tells goes on as a share; it raises when somebody breaks it off."""

        def tell(what: str, done: int, of: int) -> None:
            self.doing = what
            step(done / max(1, of))

        return tell

    def know(self, prepared: Prepared) -> None:
        """Show what it would add."""
        self.work, self.prepared = None, prepared
        self.facts = facts_of(prepared, committed=False)
        self.show()

    def refused(self, error: SandlabError) -> None:
        """Say why not, in place; the name stays to be corrected."""
        broken_off = self.work is not None and self.work.ended
        self.work = None
        self.told = "Broken off; nothing was saved." if broken_off else problem_words(error.problems)
        self.show()

    def action_save(self) -> None:
        """Save what the dry run showed, all of it or nothing."""
        if self.prepared is None or self.facts is None or self.work is not None:
            return
        prepared, here = self.prepared, station(self)
        folder, system, clock = here.desk.folder, here.desk.system, here.desk.clock or system_clock

        def work(step: Work) -> ImportFacts:
            lab = open_lab(folder, system=system, clock=clock)
            try:
                return save(lab, prepared, tell=self.teller(step))
            finally:
                lab.close()

        self.work = here.desk.beside(self, work, self.done, failed=self.refused)
        self.facts = self.prepared = None

    def done(self, facts: ImportFacts) -> None:
        """Leave with what became of it."""
        self.dismiss(facts.words)

    def action_leave(self) -> None:
        """Break off what runs; else leave."""
        if self.work is not None:
            self.work.end()
        else:
            self.dismiss(None)

    def lines(self) -> list[Content]:
        """The report at the panel's width: what it comes to first, then questions, guesses and places."""
        facts = self.facts
        if facts is None:
            return [styled(line) for line in self.told.split("\n")]
        words = facts.words.partition(" Nothing is saved")[0]
        count = facts.counts["refused"]
        places = "place that is" if count == 1 else "places that are"
        rest = f" without the {count} {places} refused" if count else ""
        texts = [words, f"F6 saves it{rest}; Esc leaves everything as it was.", ""]
        if facts.proposed:
            texts += [f"How to read it was guessed, and is kept in {facts.mapping} to be corrected.", ""]
            texts += [f"? {one.where}: {one.what}; {one.do}" for one in facts.questions]
            for one in facts.guesses:
                head = " ".join(one.head.split())
                if one.word != "sure":
                    texts.append(f"{one.sheet} {one.column} '{head}': {one.means} {one.word}")
        texts += facts.report
        width = max(40, min(WIDEST, self.size.width) - 5)
        found = [styled(part) for text in texts for part in (wrap(text, width) or [""])]
        return [found[0].stylize("bold"), *found[1:]]

    def show(self) -> None:
        """Write the lines in view."""
        lines, room = self.lines(), max(3, self.size.height - 8)
        self.top = max(0, min(self.top, len(lines) - room))
        shown = lines[self.top : self.top + room]
        left = len(lines) - self.top - room
        if left > 0:
            shown[-1] = styled((f" PgDn: {left + 1} more lines", "$muted"))
        self.query_one("#import-text", Static).update(Content("\n").join(shown))

    def on_resize(self) -> None:
        """Fit the lines."""
        self.show()

    def action_move(self, by: int) -> None:
        """A line further."""
        self.top += by
        self.show()

    def action_turn(self, by: int) -> None:
        """A page further."""
        self.action_move(by * (max(3, self.size.height - 8) - 2))

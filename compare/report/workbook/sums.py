"""The sums behind What-if: a row a build, and tables over axle and tyre to look into."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from xlsxwriter.utility import xl_col_to_name, xl_rowcol_to_cell

from compare.answer.anew import (
    LAST,
    Anew,
    at_scale,
    inputs_of,
    standing_of,
    worth_by_formula,
)
from compare.answer.live import Live, LiveRow
from compare.figures import safe
from compare.report.workbook.book import Book, Page, fitting

__all__ = ["NAME_WIDTH", "Sums"]

NAME_WIDTH = (
    24.0  # of a candidate on the page; a longer name is cut, the sheet Ranking has all of it
)

FIRST = 24  # row of the first build; above it inputs, constants and the torque curve
Put = Callable[[str, str, float | str], None]
ROLES = ("speed", "axle", "tyre", "money")


def _at(row: int, column: int) -> str:
    return xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True)


@dataclass
class Sums:
    """Places of everything, and the formulas; `write` makes the sheet."""

    live: Live
    now: list[Anew]
    used: Mapping[str, str]
    weights: Mapping[str, str]
    weight_rows: tuple[int, int]
    book: Book
    columns: dict[str, int] = field(init=False)
    stepped: list[str] = field(init=False)
    numbers: dict[str, str] = field(init=False, default_factory=dict)
    NAME = "What-if sums"
    GEARING = "$B$8"

    def __post_init__(self) -> None:
        live = self.live
        self.stepped = [c for c in live.criteria if c not in live.formulas.values()]
        self.sizes = {
            "rpm": max(1, *(len(r.rpm.values) for r in live.rows)),
            "pull": max(1, *(len(r.pull.values) for r in live.rows)),
            "cost": max(1, *(len(r.cost.values) for r in live.rows)),
        }
        names = [
            "candidate",
            "build",
            "rank",
            "was rank",
            "value",
            "was value",
            "outcome",
            "chance",
            "score",
            "failing",
            "rpm",
            "cost",
            "torque",
            "pull",
            "over",
            "at",
            "part",
            "standing",
            "best",
            "rounded",
            *(f"worth {c}" for c in live.criteria),
            "number",
            "order",
            "gear",
            "waste",
            "waste per budget",
            "waits",
            "open",
            *(f"rest {c}" for c in live.formulas.values()),
            "unknown rpm",
            "unknown pull",
            "unknown cost",
        ]
        for of, size in self.sizes.items():
            kinds = ("value", "all", "inside") if of == "rpm" else ("value", "inside")
            names += [f"{of} {kind} {k}" for kind in kinds for k in range(size)]
        self.columns = {name: at for at, name in enumerate(names)}
        assert len(self.columns) == len(names)
        self.last = FIRST + len(live.rows) - 1

    # ---- places ------------------------------------------------------------

    def column(self, name: str) -> str:
        """One column of all rows, as seen from another sheet."""
        return f"'{self.NAME}'!{self.span(name)}"

    def found(self, rank: int, name: str) -> str:
        """The formula that finds a column's value in the row of a rank, from another sheet."""
        return f"INDEX({self.column(name)},MATCH({rank},{self.column('rank')},0))"

    def span(self, name: str) -> str:
        at = self.columns[name]
        return f"{_at(FIRST, at)}:{_at(self.last, at)}"

    def many(self, row: int, of: str, kind: str) -> str:
        first = self.columns[f"{of} {kind} 0"]
        return f"{_at(row, first)}:{_at(row, first + self.sizes[of] - 1)}"

    def own(self, row: int, name: str) -> str:
        return f"${xl_col_to_name(self.columns[name])}{row + 1}"

    # ---- writing ------------------------------------------------------------

    def write(self) -> None:
        """Write the sheet."""
        widths = [26.0, 18.0, *(9.0 for _ in range(len(self.columns)))]
        page = Page(self.book, self.NAME, widths)
        page.sheet.hide()
        page.sheet.set_row(0, 22)
        page.sheet.write_string(0, 0, "What-if sums", self.book.style("title"))
        page.sheet.write_string(
            1,
            0,
            "What the sheet What-if works with, in mm, km/h, kg and N·m. Nothing here is meant "
            "to be changed.",
            self.book.style("text"),
        )
        self._top(page)
        heads = self.columns
        for name, at in heads.items():
            page.text(FIRST - 1, at, name.replace("_", " "), "head")
        page.sheet.set_row(FIRST - 1, 36)
        blocks = self._nodes(page)
        for at, (row, one) in enumerate(zip(self.live.rows, self.now, strict=True)):
            self._given(page, FIRST + at, row)
            self._formulas(page, FIRST + at, row, one, blocks[at])
        page.sheet.freeze_panes(FIRST, 1)
        page.sheet.protect("", {"format_columns": True, "format_rows": True})

    def _top(self, page: Page) -> None:
        """Inputs that count, gearing, constants, weights and the torque curve."""
        sent = inputs_of(self.live)
        money = sent["money"] if sent["money"] == sent["money"] else self.live.numbers["assumed"]
        values = sent | {"money": money}
        for at, role in enumerate(ROLES, start=3):
            page.text(at, 0, role, "cell")
            known = values[role] == values[role]
            page.formula(
                at,
                1,
                "=" + self.used[role].removeprefix("="),
                values[role] if known else 1.0,
                "General",
            )
        speed, axle, tyre, self.money = (f"$B${row}" for row in (4, 5, 6, 7))
        self.speed, self.axle, self.tyre = speed, axle, tyre
        gearing = sent["axle"] / sent["tyre"]
        known = gearing == gearing
        page.text(7, 0, "axle over tyre, against the car's", "cell")
        page.formula(7, 1, f"={axle}/{tyre}/{gearing!r}" if known else "=1", 1.0, "General")
        page.text(8, 0, "engine speed, against the car's", "cell")
        fast = known and sent["speed"] == sent["speed"]
        page.formula(
            8, 1, f"={self.GEARING}*{speed}/{sent['speed']!r}" if fast else "=1", 1.0, "General"
        )
        self.factor = "$B$9"
        ends = [n.scale for row in self.live.rows for n in (row.nodes[0], row.nodes[-1])]
        page.text(9, 0, "looked up at", "cell")
        page.formula(9, 1, f"=MIN({max(ends)!r},MAX({min(ends)!r},{self.GEARING}))", 1.0, "General")
        self.scale = "$B$10"
        for at, (role, value) in enumerate(self.live.numbers.items()):
            row, column = 3 + at % 9, 3 + 2 * (at // 9)
            page.text(row, column, role, "cell")
            if value == value:
                page.sheet.write_number(row, column + 1, value, self.book.style("cell"))
            self.numbers[role] = _at(row, column + 1)
        self._weights(page)
        self._curve(page)

    def _weights(self, page: Page) -> None:
        page.text(13, 0, "weights, as they count", "cell")
        page.text(14, 0, "weights, adding up to 1", "cell")
        first, count = self.columns[f"worth {self.live.criteria[0]}"], len(self.live.criteria)
        sent = {r["criterion"]: r["weight"] for r in self.book.report.criteria}
        raw, whole = f"{_at(13, first)}:{_at(13, first + count - 1)}", sum(sent.values())
        given = f"{_at(15, first)}:{_at(15, first + count - 1)}"
        page.text(15, 0, "weights, as sent", "cell")
        for at, name in enumerate(self.live.criteria, start=first):
            page.text(12, at, name, "cell")
            page.formula(13, at, self.weights[name], 100 * sent[name], "General")
            page.sheet.write_number(15, at, 100 * sent[name], self.book.style("cell"))
            share = f"=IF(SUM({raw})>0,{_at(13, at)}/SUM({raw}),{_at(15, at)}/SUM({given}))"
            page.formula(14, at, share, sent[name] / whole, "General")
        self.shares = f"{_at(14, first)}:{_at(14, first + count - 1)}"
        self.share = {name: _at(14, at) for at, name in enumerate(self.live.criteria, start=first)}

    def _curve(self, page: Page) -> None:
        page.text(17, 0, "torque curve: rev/min", "cell")
        page.text(18, 0, "torque curve: N·m", "cell")
        for at, (rpm, torque) in enumerate(self.live.curve, start=1):
            page.sheet.write_number(17, at, rpm, self.book.style("cell"))
            page.sheet.write_number(18, at, torque, self.book.style("cell"))
        last = max(len(self.live.curve), 1)
        self.rpms, self.torques = (f"{_at(r, 1)}:{_at(r, last)}" for r in (17, 18))

    def _nodes(self, page: Page) -> list[tuple[int, int]]:
        """The tables over the gearing, below the rows; per row its first and last line."""
        row = self.last + 3
        heads = (
            "candidate",
            "build",
            "axle over tyre",
            "chance",
            "cost",
            "nothing but fitting",
            *self.stepped,
        )
        for at, head in enumerate(heads):
            page.text(row, at, head.replace("_", " "), "head")
        row += 1
        blocks = []
        for one in self.live.rows:
            blocks.append((row, row + len(one.nodes) - 1))
            for node in one.nodes:
                page.text(row, 0, safe(one.candidate, 200))
                page.text(row, 1, safe(one.build, 200))
                cells = (node.scale, node.chance, node.cost, float(node.only), *node.worth)
                for at, value in enumerate(cells, start=2):
                    if value == value:
                        page.sheet.write_number(row, at, value)
                    else:
                        page.sheet.write_string(row, at, "?")
                row += 1
        return blocks

    def _given(self, page: Page, row: int, one: LiveRow) -> None:
        """What does not change: the spreads, waste, and how it was sent."""
        put = lambda name, value: page.sheet.write_number(
            row, self.columns[name], value, self.book.style("cell", "General")
        )
        names = list(dict.fromkeys(r.candidate for r in self.live.rows))
        page.text(row, self.columns["candidate"], fitting(one.candidate, NAME_WIDTH), "cell")
        page.text(row, self.columns["build"], one.build, "cell")
        put("was value", one.value)
        put("number", names.index(one.candidate))
        put(
            "was rank",
            next((r.rank for r in self.live.rows if r.candidate == one.candidate and r.rank), 0),
        )
        put("order", one.order)
        if one.gear == one.gear:
            put("gear", one.gear)
        put("waste", one.waste)
        put("waste per budget", one.waste_per_budget)
        put("waits", float(one.waits))
        put("open", float(one.open))
        sent = inputs_of(self.live)
        base = worth_by_formula(self.live, one, sent, at_scale(one.nodes, 1.0).cost, 1.0)
        for name, value in base.items():
            put(f"rest {name}", one.mean[name] - value)
        for of, spread in (("rpm", one.rpm), ("pull", one.pull), ("cost", one.cost)):
            put(f"unknown {of}", spread.unknown)
            for k in range(self.sizes[of]):
                there = k < len(spread.values)
                put(f"{of} value {k}", spread.values[k] if there else 1.0)
                put(f"{of} inside {k}", spread.inside[k] if there else 0.0)
                if of == "rpm":
                    put(f"{of} all {k}", spread.all[k] if there else 0.0)

    # ---- formulas ------------------------------------------------------------

    def _formulas(
        self, page: Page, row: int, one: LiveRow, now: Anew, block: tuple[int, int]
    ) -> None:
        own = lambda name: self.own(row, name)

        def put(name: str, formula: str, value: float | str) -> None:
            page.formula(row, self.columns[name], "=" + formula, value, "General")

        def looked(at: int) -> str:
            here, there = self._both(row, at, block)
            return f'IFERROR({here}+({there}-{here})*{own("part")},"?")'

        here, there = self._both(row, 2, block)
        at = 1 + max(i for i, n in enumerate(one.nodes) if n.scale <= 1.0)
        scales = f"{_at(block[0], 2)}:{_at(block[1], 2)}"
        put("at", f"MATCH({self.scale},{scales},1)", float(at))
        put("part", f"IF({there}>{here},({self.scale}-{here})/({there}-{here}),0)", 0.0)
        if one.gear == one.gear and now.rpm == now.rpm:
            put("rpm", f"{self.speed}*1000000/60/{self.tyre}*{self.axle}*{own('gear')}", now.rpm)
        else:
            put("rpm", '"?"', "?")
        self._pull(put, row, one, now)
        put("over", self._beyond(row, one), _over(self.live, one, now, self.now))
        put("chance", "1" if one.keep else f"{looked(3)}*(1-{own('over')})", now.chance)
        put("cost", "0" if one.keep else looked(4), now.cost)
        for at, name in enumerate(self.stepped):
            put(f"worth {name}", looked(6 + at), now.worth[name])
        self._worths(put, row, one, now)
        first, last = (own(f"worth {self.live.criteria[at]}") for at in (0, -1))
        put("score", f"100*SUMPRODUCT({self.shares},{first}:{last})", now.score)
        put("failing", own("score") if one.keep else self._failing(row), now.failing)
        put("outcome", self._outcome(row, one, self._both(row, 5, block)[0]), now.outcome)
        value = f"{own('chance')}*{own('score')}+(1-{own('chance')})*{own('failing')}"
        put("value", value, now.value)
        self._order(put, row, now)

    def _both(self, row: int, at: int, block: tuple[int, int]) -> tuple[str, str]:
        """The entries of a node's column at the node that is looked up, and at the next one."""
        span, own = f"{_at(block[0], at)}:{_at(block[1], at)}", self.own(row, "at")
        count = block[1] - block[0] + 1
        return f"INDEX({span},{own})", f"INDEX({span},MIN({own}+1,{count}))"

    def _beyond(self, row: int, one: LiveRow) -> str:
        """Share of the draws beyond the redline; none where today's gearbox turns as fast."""
        if one.keep or self.live.numbers["most"] != self.live.numbers["most"]:
            return "0"
        most, own = self.numbers["most"], self.own(row, "rpm")
        values = f"({self.many(row, 'rpm', 'value')}*{self.factor}>{most})"
        over = f"SUMPRODUCT({self.many(row, 'rpm', 'all')}*{values})"
        today = self._today("rpm")
        if not today:
            return over
        spared = f"IF(ISNUMBER({today}),{today}>{most},FALSE)"
        slower = f"IF(ISNUMBER({own}),{own}<={today},FALSE)"
        return f"IF(AND({spared},{slower}),0,{over})"

    def _failing(self, row: int) -> str:
        """Today's value less the waste, in points."""
        share = self.share[self.live.formulas["money"]]
        point = f"100*{share}/({self.numbers['span']}*{self.money})"
        lost = f"{self.own(row, 'waste')}+{self.own(row, 'waste per budget')}*{self.money}"
        return f"{self._today('score') or '0'}-({lost})*{point}"

    def _outcome(self, row: int, one: LiveRow, only: str) -> str:
        """The label, by the program's one rule."""
        if one.keep:
            return f'"{one.outcome}"'
        own, n = (lambda name: self.own(row, name)), self.numbers
        bolts, goes, measure, out = self.live.outcomes
        doubt = f"OR({own('chance')}<{n['sure']}-0.000000000001,{own('waits')}=1)"
        good = f'IF({doubt},"{measure}",IF({only}=1,"{bolts}","{goes}"))'
        known = f'IF({own("chance")}<{n["hopeless"]},"{out}",{good})'
        return f'IF({own("open")}=1,"{measure}",{known})'

    def _today(self, name: str) -> str:
        """The cell of today's gearbox, where there is one."""
        for at, row in enumerate(self.live.rows):
            if row.keep:
                return _at(FIRST + at, self.columns[name])
        return ""

    def _order(self, put: Put, row: int, now: Anew) -> None:
        own = lambda name: self.own(row, name)
        value, order, number = self.span("rounded"), self.span("order"), self.span("number")
        first = f"(({value}>{own('rounded')})+({value}={own('rounded')})*({order}<{own('order')}))"
        put("rounded", f"ROUND({own('value')},6)", round(now.value, 6))
        out = self.live.outcomes[3]
        standing = standing_of(now.value, now.outcome == out)
        put("standing", f'{own("rounded")}-IF({own("outcome")}="{out}",{LAST:g},0)', standing)
        stands, mine = self.span("standing"), own("standing")
        before = f"(({stands}>{mine})+({stands}={mine})*({order}<{own('order')}))"
        put("best", f"IF(SUMPRODUCT(({number}={own('number')})*{before})=0,1,0)", float(now.best))
        put(
            "rank",
            f'IF({own("best")}=1,1+SUMPRODUCT({self.span("best")}*{first}),"")',
            float(now.rank) if now.rank else "",
        )

    def _pull(self, put: Put, row: int, one: LiveRow, now: Anew) -> None:
        """Torque on the curve, its end beyond it, and the gradient that top gear holds."""
        if "pull" not in self.live.formulas or now.rpm != now.rpm:
            put("torque", '"?"', "?")
            put("pull", '"?"', "?")
            return
        n, own, count = self.numbers, (lambda name: self.own(row, name)), len(self.live.curve)
        rpm = f"MIN(INDEX({self.rpms},{count}),MAX(INDEX({self.rpms},1),{own('rpm')}))"
        at = f"MIN({count - 1},MATCH({rpm},{self.rpms},1))"
        x, y, x2, y2 = (
            f"INDEX({s},{at}{p})" for p in ("", "+1") for s in (self.rpms, self.torques)
        )
        put("torque", f"{y}+({y2}-{y})*({rpm}-{x})/({x2}-{x})", now.torque)
        force = (
            f"{own('torque')}*{own('gear')}*{self.axle}*{n['efficiency']}*2*PI()/({self.tyre}/1000)"
        )
        drag = f"0.5*{n['air']}*{n['drag']}*{n['area']}*({self.speed}/3.6)^2"
        share = f"({force}-{drag})/({n['mass']}*{n['gravity']}*SQRT(1+{n['rolling']}^2))"
        put("pull", f"100*TAN(ASIN(MIN(MAX({share},-0.999),0.999))-ATAN({n['rolling']}))", now.pull)

    def _worths(self, put: Put, row: int, one: LiveRow, now: Anew) -> None:
        """Worth of engine speed, pull and money: over the spread, and what that leaves out."""
        n, own, roles = self.numbers, (lambda name: self.own(row, name)), self.live.formulas
        many = lambda of, kind: self.many(row, of, kind)
        half = n["half"]

        def worth(role: str, total: str) -> None:
            name = roles[role]
            put(f"worth {name}", f"MAX(0,MIN(1,{total}+{own(f'rest {name}')}))", now.worth[name])

        rpm = f"({many('rpm', 'value')}*{self.factor})"
        if "window" in roles:
            below, above = f"({n['low']}/{rpm}-1)", f"({rpm}/{n['high']}-1)"
            x = f"(1-100*({below}*({below}>0)+{above}*({above}>0))/{n['fall']})"
            worth(
                "window",
                f"SUMPRODUCT({many('rpm', 'inside')}*{x}*({x}>0))+{half}*{own('unknown rpm')}",
            )
        if "pull" in roles:
            if now.pull == now.pull and one.pull.unknown < 1:
                count = len(self.live.curve)
                ends = f"(({rpm}<INDEX({self.rpms},1))+({rpm}>INDEX({self.rpms},{count})))"
                beyond = f"SUMPRODUCT({many('rpm', 'inside')}*{ends})"
                x = f"(({own('pull')}+{many('pull', 'value')})/{n['full']})"
                inside = f"SUMPRODUCT({many('pull', 'inside')}*({x}*({x}>0)*({x}<1)+({x}>=1)))"
                worth(
                    "pull",
                    f"{half}*(1-(1-{own('unknown pull')})*(1-{beyond}))+(1-{beyond})*{inside}",
                )
            else:
                worth("pull", half)
        if one.keep:
            put(f"worth {roles['money']}", "1", 1.0)
            return
        x = f"(1-{own('cost')}*{many('cost', 'value')}/({n['span']}*{self.money}))"
        total = f"SUMPRODUCT({many('cost', 'inside')}*{x}*({x}>0))+{half}*{own('unknown cost')}"
        worth("money", f"IF(ISNUMBER({own('cost')}),{total},{half})")


def _over(live: Live, one: LiveRow, now: Anew, every: list[Anew]) -> float:
    from compare.answer.anew import beyond_redline

    if one.keep or live.numbers["most"] != live.numbers["most"]:
        return 0.0
    today = next((a for a, row in zip(every, live.rows, strict=True) if row.keep), None)
    return beyond_redline(live, one, now.rpm, 1.0, today)

"""The resources of each client, wherever in the files they stand: Spark's joins and groups, and few small tables.

The evidence is that of one machine: ``woundfhir.bulk.whose`` says of each line which names its client has, lines that
share a name may be of one client, and whose each is ``intake`` decides, who sees all of them. What is everybody's goes
to each client who names it. Only what joins two names of a client (a second Patient with the same number) comes to the
driver; everything else stays where Spark puts it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import chain
from typing import TYPE_CHECKING, NoReturn

from woundfhir.bulk.whose import NotPlain
from woundfhir.errors import InputError
from woundfhir.spark import whose
from woundfhir.spark.joined import Joined
from woundfhir.spark.lines import Lines, file_of

if TYPE_CHECKING:
    from pyspark.sql import DataFrame, Row

#: Of a client, the row that holds only their number; it sorts before all of their lines.
NUMBER_ROW = -1
_FIX = "Correct the line, or let --errors list such lines and read the others"


@dataclass
class Grouped:
    """Lines with their clients.

    Parameters
    ----------
    rows
        ``root`` (string), ``place`` (bigint), ``number`` (bigint) and ``text`` (binary): the lines of each client, and
        of each client one row ``NUMBER_ROW`` with the number of the client in the order in which they are first named.
    clients
        How many clients.
    refused
        ``place`` and ``reason`` of the lines that cannot be read.
    kept
        What Spark keeps for this and may forget afterwards.
    """

    rows: DataFrame
    clients: int
    refused: DataFrame
    kept: list[DataFrame] = field(default_factory=list)

    def forget(self) -> None:
        """Let Spark forget what it keeps."""
        for one in self.kept:
            one.unpersist()


def grouped(lines: Lines, skip_unreadable: bool = False) -> Grouped:
    """Bring the lines of each client together.

    Raises
    ------
    InputError
        With file and line of what is no resource, unless such lines are to be skipped.
    NotPlain
        Where the input must be read as a whole.
    """
    heads = whose.heads(lines.frame).persist()
    counted = _counted(heads, skip_unreadable)
    if counted.ends is not None:
        _refuse(lines, heads, counted.ends)
    work = _Grouping(lines, heads, counted)
    if len(lines.names) > 1:
        work.refuse_two_servers()
    work.place_loose()
    work.refuse_one_id_for_two()
    return work.result()


def _counted(heads: DataFrame, skip_unreadable: bool) -> Row:
    """Return how many lines there are of each kind, and the first that ends the run."""
    from pyspark.sql import functions as F

    ends = F.col("fault").isNotNull()
    if skip_unreadable:
        ends &= F.col("fault") != whose.REFUSED
    plain = F.col("fault").isNull()
    return heads.agg(
        F.min(F.when(ends, F.col("place"))).alias("ends"),
        F.count_if(plain & F.col("shared")).alias("shared"),
        F.count_if(plain & F.col("shared") & (F.size("refs") > 0)).alias("naming"),
        F.count_if(plain & ~F.col("shared") & F.col("key").isNull()).alias("loose"),
    ).collect()[0]


def _refuse(lines: Lines, heads: DataFrame, place: int) -> NoReturn:
    """Raise what a line says that ends the run."""
    from pyspark.sql import functions as F

    row = heads.where(F.col("place") == place).select("fault", "reason").collect()[0]
    if row.fault == whose.WHOLE:
        raise NotPlain
    if row.fault == whose.LONG:
        raise InputError(lines.where(place), row.reason, "Write one resource a line")
    raise InputError(lines.where(place), "one FHIR resource on each line", _FIX, found=row.reason)


class _Grouping:
    def __init__(self, lines: Lines, heads: DataFrame, counted: Row) -> None:
        from pyspark.sql import functions as F

        self.lines, self.heads, self.counted = lines, heads, counted
        self.kept = [heads]
        self.joined = Joined()
        good = heads.where(F.col("fault").isNull())
        self.owned = good.where(F.col("key").isNotNull())
        self.shared = good.where("shared")
        self.loose = good.where(F.col("key").isNull() & ~F.col("shared"))
        names = self.owned.select(F.explode("clients").alias("name"), "key").distinct()
        self._join(names.groupBy("name").agg(F.collect_set("key").alias("keys")))
        self.placed: DataFrame | None = None

    def _keep(self, frame: DataFrame) -> DataFrame:
        self.kept.append(frame.persist())
        return frame

    def _join(self, sets: DataFrame) -> None:
        """Take sets of keys that are of one client each."""
        from pyspark.sql import functions as F

        for (keys,) in sets.where(F.size("keys") > 1).select("keys").collect():
            self.joined.join(keys)

    def _rooted(self, frame: DataFrame) -> DataFrame:
        """Put ``root`` for ``key``."""
        from pyspark.sql import functions as F

        if not (roots := self.joined.roots()):
            return frame.withColumnRenamed("key", "root")
        table = frame.sparkSession.createDataFrame(list(roots.items()), "key string, other string")
        found = frame.join(F.broadcast(table), "key", "left")
        return found.withColumn("root", F.coalesce("other", "key")).drop("key", "other")

    def place_loose(self) -> None:
        """Put what names no client to the one whose resources it points at, over other such resources too."""
        from pyspark.sql import functions as F

        if not self.counted.loose:
            return
        pointing = self.loose.select("place", F.explode("refs").alias("ref"))
        owners = self.owned.where(F.col("name").isNotNull()).select(F.col("name").alias("ref"), "key").distinct()
        direct = pointing.join(owners, "ref").groupBy("place").agg(F.collect_set("key").alias("keys"))
        self._keep(direct)
        self._join(direct)
        others = self.loose.select(F.col("name").alias("ref"), F.col("place").alias("to"))
        steps = [tuple(row) for row in pointing.join(others, "ref").select("place", "to").distinct().collect()]
        placed = direct.select("place", F.array_min("keys").alias("key"))
        more = self._over_steps(direct, steps)
        if more:
            placed = placed.union(placed.sparkSession.createDataFrame(more, "place bigint, key string"))
        self.placed = self._keep(placed.join(self.loose.select("place", "name", "refs", "text"), "place"))
        if self.placed.count() < self.counted.loose:
            raise NotPlain

    def _over_steps(self, direct: DataFrame, steps: list[tuple[int, int]]) -> list[tuple[int, str]]:
        """Place what points only at other loose resources; whoever is reached over steps is brought together."""
        from pyspark.sql import functions as F

        if not steps:
            return []
        table = direct.sparkSession.createDataFrame([(one,) for one in {*chain(*steps)}], "place bigint")
        found = direct.join(F.broadcast(table), "place").select("place", F.array_min("keys").alias("key"))
        keys: dict[int, str] = {row.place: row.key for row in found.collect()}
        known = set(keys)
        changed = True
        while changed:
            changed = False
            for start, end in steps:
                if end in keys and start not in keys:
                    keys[start], changed = keys[end], True
        for start, end in steps:
            if start in keys and end in keys:
                self.joined.join((keys[start], keys[end]))
        return [(place, key) for place, key in keys.items() if place not in known]

    def refuse_two_servers(self) -> None:
        """Refuse files that hold different Patients under one id: names are those of all files here, not of a folder's.

        One machine reads such files apart (``intake.file_groups``).
        """
        from pyspark.sql import functions as F

        held = self.owned.where(F.col("name").startswith("Patient/"))
        several = held.groupBy("name").agg(
            F.count_distinct(file_of("place")).alias("files"), F.count_distinct("digest").alias("contents")
        )
        if not several.where("files > 1 AND contents > 1").isEmpty():
            wrong = "two files hold different Patients under one id, as exports of two servers do"
            raise InputError(self.lines.title(), "the files of one export", "Name each export by itself", found=wrong)

    def refuse_one_id_for_two(self) -> None:
        """An id that two clients' resources bear, or two contents of everybody's: only the whole shows the conflict."""
        from pyspark.sql import functions as F

        nobody = F.lit(None).cast("string").alias("key")
        nothing = F.lit(None).cast("binary").alias("digest")
        parts = [self.owned.select("name", "key", nothing), self.shared.select("name", nobody, "digest")]
        if self.placed is not None:
            parts.append(self.placed.select("name", "key", nothing))
        named = self._rooted(_union(parts).where(F.col("name").isNotNull())).distinct()
        if not named.groupBy("name").count().where("count > 1").isEmpty():
            raise NotPlain

    def result(self) -> Grouped:
        """Return the lines with their clients, and each client's number."""
        from pyspark.sql import Window
        from pyspark.sql import functions as F

        first = self._rooted(self.owned.select("place", "key")).groupBy("root").agg(F.min("place").alias("first"))
        order = F.row_number().over(Window.orderBy("first"))
        numbers = self._keep(first.select("root", order.cast("bigint").alias("number")))
        clients = numbers.count()
        if not clients:
            numbers = numbers.sparkSession.createDataFrame([("", 1)], "root string, number bigint")
        parts = [self._rooted(whose.owned(self.lines.frame)).select("root", "place", "text")]
        if self.placed is not None:
            parts.append(self._rooted(self.placed.select("place", "key", "text")).select("root", "place", "text"))
        if self.counted.shared:
            alone = self.shared.crossJoin(numbers.select("root")).select("root", "place", "text")
            parts.append(alone if clients < 2 else self._shared_by_root())
        number, text = F.lit(None).cast("bigint").alias("number"), F.lit(None).cast("binary").alias("text")
        marks = numbers.select("root", F.lit(NUMBER_ROW).cast("bigint").alias("place"), "number", text)
        rows = _union(parts).select("root", "place", number, "text").union(marks)
        refused = self.heads.where(F.col("fault") == whose.REFUSED).select("place", "reason")
        return Grouped(rows, clients, refused, self.kept)

    def _shared_by_root(self) -> DataFrame:
        """Return what is everybody's for each client who names it, and what that names."""
        from pyspark.sql import functions as F

        asking = [self.owned.select("key", F.explode("refs").alias("name"))]
        if self.placed is not None:
            asking.append(self.placed.select("key", F.explode("refs").alias("name")))
        asked = self._rooted(_union(asking)).select("root", "name").distinct()
        if self.counted.naming:
            reach = self._reach().withColumnRenamed("from", "name")
            more = asked.join(reach, "name").select("root", F.col("to").alias("name"))
            asked = asked.union(more).distinct()
        texts = self.shared.where(F.col("name").isNotNull()).select("name", "place", "text")
        return asked.join(texts, "name").select("root", "place", "text")

    def _reach(self) -> DataFrame:
        """Return which of everybody's resources name which others, over any number of steps."""
        from pyspark.sql import functions as F

        here = self.shared.where(F.col("name").isNotNull()).select("name", "refs")
        steps = self._keep(here.select(F.col("name").alias("from"), F.explode("refs").alias("to")).distinct())
        reach, last = steps, -1
        further = steps.withColumnRenamed("from", "by")
        while True:
            longer = reach.withColumnRenamed("to", "by").join(further, "by").select("from", "to")
            if last < 0 and longer.isEmpty():  # as a rule: a role names a person, who names nobody
                return steps
            reach = _cut(reach.union(longer).distinct())
            if (count := reach.count()) == last:
                return reach
            last = count


def _cut(frame: DataFrame) -> DataFrame:
    """Return a frame without its history, which would grow with each round: where checkpoints go, else in place."""
    kept: DataFrame = frame.checkpoint() if frame.sparkSession.conf.get(_CHECKPOINTS, None) else frame.localCheckpoint()
    return kept


_CHECKPOINTS = "spark.checkpoint.dir"


def _union(parts: list[DataFrame]) -> DataFrame:
    out = parts[0]
    for part in parts[1:]:
        out = out.union(part)
    return out

"""The session in which our queries run: the settings that they rely on, without changing those of the caller."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pyspark.sql import SparkSession

#: Bytes of one batch between Java and Python: a batch of large resources stays small.
_BATCH = str(8 * 1024 * 1024)


def own_session(spark: SparkSession) -> SparkSession:
    """Return a session of the same application with settings of its own.

    Files are parted in the same way by every query of one run, whatever executors there are when it begins: a line is
    known by where it stands.
    """
    own = spark.newSession()
    for name in ("spark.sql.shuffle.partitions", "spark.sql.files.maxPartitionBytes"):  # what the caller has set
        own.conf.set(name, str(spark.conf.get(name)))
    parts = max(spark.sparkContext.defaultParallelism, 2)
    for name, value in (
        ("spark.sql.files.minPartitionNum", str(parts)),
        ("spark.sql.execution.arrow.maxBytesPerBatch", _BATCH),
        ("spark.sql.execution.arrow.pyspark.enabled", "true"),
        ("spark.sql.parquet.outputTimestampType", "TIMESTAMP_MICROS"),  # an instant, as in tables of one machine
    ):
        own.conf.set(name, value)
    return own

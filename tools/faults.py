"""Small faults in a file, for ``mutation.py``: found by cosmic-ray, put into the code in memory, and tests run on it.

As a plugin of pytest (``-p faults``) it lets the process import one file with its fault.
"""

import ast
import difflib
import gc
import os
import time
from contextlib import suppress
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType, FunctionType

ROOT = Path(__file__).resolve().parents[1]
#: The variable that names a file and another that holds its text with a fault.
PLANTED = "WOUNDFHIR_FAULT"


def operators():
    """Return the operators of cosmic-ray that need no arguments, by name."""
    import parso  # noqa: F401  cosmic_ray imports a part of it that cannot be imported first
    from cosmic_ray import plugins

    classes = {name: plugins.get_operator(name) for name in plugins.operator_names()}
    same = (
        "_Eq_Is",
        "_Is_Eq",
        "_NotEq_IsNot",
        "_IsNot_NotEq",
    )  # the same for what Python keeps once: True, short words
    return {name: each() for name, each in sorted(classes.items()) if not each.arguments() and not name.endswith(same)}


def mutants(path):
    """Yield every fault of a file that is not in an annotation: (file, operator, number, line)."""
    from cosmic_ray.ast import ast_nodes, get_ast

    source, away = path.read_text("utf-8"), []
    for node in ast.walk(ast.parse(source)):
        parts = [getattr(node, "annotation", None), getattr(node, "returns", None)]
        checked = isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for part in filter(None, [*parts, node if checked else None]):
            away.append(((part.lineno, part.col_offset), (part.end_lineno, part.end_col_offset)))
    nodes = list(ast_nodes(get_ast(source)))
    for name, operator in operators().items():
        places = [place for node in nodes for place, _ in operator.mutation_positions(node)]
        for number, place in enumerate(places):
            if not any(start <= place < end for start, end in away):
                yield str(path.relative_to(ROOT)), name, number, place[0]


def sources(mutant):
    """Return the text of the file without and with the fault."""
    from cosmic_ray.mutating import mutate_code

    text = (ROOT / mutant[0]).read_text("utf-8")
    return text, mutate_code(text, operators()[mutant[1]], mutant[2])


def compiles(mutant):
    """Return whether the file with the fault is Python: a ``*`` between parameters is no operator.

    cosmic-ray exchanges no exception with a dot in its name, and fails there.
    """
    with suppress(SyntaxError, AttributeError):
        return bool(compile(sources(mutant)[1], mutant[0], "exec"))
    return False


def changed(mutant):
    """Return the lines that the fault takes away and puts there, in one line."""
    lines = list(difflib.unified_diff(*map(str.splitlines, sources(mutant)), n=0, lineterm=""))[3:]
    return " ".join(" ".join(line.split()) for line in lines)


def equivalent():
    """Return the faults that change nothing that anybody can see: (file, what is changed)."""
    with (ROOT / "tools/equivalent_faults.tsv").open(encoding="utf-8") as file:
        return {tuple(line.split("\t")[:2]) for line in file}


def functions(code):
    """Yield (qualified name, code) of each outermost function below a module's or a class's code."""
    for each in code.co_consts:
        if isinstance(each, CodeType) and each.co_flags & 2:  # CO_NEWLOCALS: a function, not the body of a class
            yield each.co_qualname, each
        elif isinstance(each, CodeType):
            yield from functions(each)


def exchanged(mutant):
    """Put the fault into the functions that stand in memory; return whether there was one."""
    path, done = str(ROOT / mutant[0]), False
    old, new = (dict(functions(compile(text, path, "exec"))) for text in sources(mutant))
    for each in gc.get_objects():
        code = each.__code__ if isinstance(each, FunctionType) else None
        if code and code.co_filename == path and old.get(code.co_qualname) != new.get(code.co_qualname):
            with suppress(KeyError, ValueError):  # the fault takes away a variable of the function around
                each.__code__, done = new[code.co_qualname], True
    return done


def plant():
    """Let this process import a file with its fault (``-p faults``, in the process that ``fresh`` starts)."""
    (path, fault), usual = os.environ[PLANTED].split(os.pathsep), SourceFileLoader.get_code
    SourceFileLoader.get_code = lambda self, name: (
        compile(Path(fault).read_text(), path, "exec") if self.path == path else usual(self, name)
    )


def run(items, after=()):
    """Run tests one after the other; return the number of the first that fails, or None."""
    failed, line, plugins = [], [*items, *after, None], items[0].config.pluginmanager
    watch = type("Watch", (), {"pytest_runtest_logreport": lambda self, report: failed.extend([1] * report.failed)})()
    plugins.register(watch)
    for number, item in enumerate(items):
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=line[number + 1])
        if failed:
            break
    plugins.unregister(watch)
    return number if failed else None


def watched(items, files):
    """Run all tests; return how long each took that passed, and the numbers of those that run each line."""
    from coverage import Coverage

    cover, seconds = Coverage(data_file=None, config_file=False, include=[str(ROOT / file) for file in files]), {}
    with cover.collect():
        for number, item in enumerate(items):
            cover.switch_context(item.nodeid)
            begin = time.process_time()
            if run([item], items[number + 1 : number + 2]) is None:
                seconds[item.nodeid] = time.process_time() - begin
    place, lines = {test: number for number, test in enumerate(seconds)}, {}
    for file in files:
        by_line = cover.get_data().contexts_by_lineno(str(ROOT / file))
        lines[file] = {line: [place[test] for test in tests if test in place] for line, tests in by_line.items()}
    return {"seconds": seconds, "lines": lines}


if PLANTED in os.environ:
    plant()

"""The HL7 validation engine (HAPI FHIR packaging of org.hl7.fhir.validation) in this process, through JPype.

One Java machine a process, started at the first use, offline: nothing in the chain of supports opens a connection, and
the engine is told not to.
The chain knows the R4 core definitions that come with the engine, plus the definitions that it is given.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from typing import Any, NamedTuple

import msgspec

from tests.form.served import Unavailable

from .jars import home, jars

Json = Any
_HEAP = "-Xmx2g"
_WORKERS = 2


class Issue(NamedTuple):
    """One finding of the engine about the resource number ``of`` in the batch."""

    of: int
    severity: str  # fatal, error, warning, information
    location: str
    message_id: str
    message: str


@lru_cache(maxsize=1)
def java() -> Any:
    """Start the Java machine, once, and return the ``jpype`` module; raise Unavailable where it cannot."""
    try:
        import jpype
    except ImportError:
        raise Unavailable("JPype is not installed (extra: conformance)") from None
    if not jpype.isJVMStarted():
        options = [_HEAP, "-Xss4m", "-Dslf4j.internal.verbosity=ERROR", "-Duser.timezone=UTC", "-Duser.language=en"]
        jpype.startJVM(*options, f"-Duser.home={home()}", classpath=[str(jar) for jar in jars()], convertStrings=False)
        jpype.JPackage("org").hl7.fhir.utilities.settings.FhirSettings.setProhibitNetworkAccess(True)
    return jpype


@lru_cache(maxsize=1)
def core() -> Any:
    """Return the definitions of R4 core, read once for all engines."""
    hapi = java().JPackage("ca").uhn.fhir.context
    return hapi.support.DefaultProfileValidationSupport(hapi.FhirContext.forR4Cached())


class Engine:
    """A validator that knows R4 core and the given definitions.

    Parameters
    ----------
    definitions
        Conformance resources as dicts: StructureDefinition (snapshot optional), ValueSet, CodeSystem, Questionnaire,
        and so on.
    """

    def __init__(self, definitions: Iterable[Mapping[str, Json]] = ()) -> None:
        jpype = java()
        support = jpype.JPackage("org").hl7.fhir.common.hapi.validation
        hapi = jpype.JPackage("ca").uhn.fhir.context
        self.context = hapi.FhirContext.forR4Cached()
        self._pool = support.support.PrePopulatedValidationSupport(self.context)
        forms = {}
        for definition in definitions:
            parsed = self._parse(definition)
            self._pool.addResource(parsed)
            if definition["resourceType"] == "Questionnaire":
                forms[definition["url"]] = parsed
        terms = support.support.InMemoryTerminologyServerValidationSupport(self.context)
        terms.setIssueSeverityForCodeDisplayMismatch(hapi.support.IValidationSupport.IssueSeverity.ERROR)
        judge = self._judge(
            self._pool,  # First: the core definitions hold an empty SNOMED CT, which would hide a fragment.
            core(),
            support.support.CommonCodeSystemsTerminologyService(self.context),
            terms,
            jpype.JProxy("ca.uhn.fhir.context.support.IValidationSupport", inst=_Forms(self.context, forms)),
        )
        judge.setErrorForUnknownProfiles(True)
        judge.setAnyExtensionsAllowed(False)
        judge.setAllowExamples(False)  # An unknown example.org URL is as unknown as any other.

    def _judge(self, *supports: Any) -> Any:
        """Validate with a chain of these supports, and return what does it, to be set up.

        One worker serves it and the maker of snapshots: each worker reads every definition that there is anew.
        """
        support = java().JPackage("org").hl7.fhir.common.hapi.validation
        self._worker = support.validator.WorkerContextValidationSupportAdapter()
        self._snapshots = support.support.SnapshotGeneratingValidationSupport(self.context, self._worker)
        self.chain = support.support.ValidationSupportChain(*supports, self._snapshots)
        self._worker.setValidationSupport(self.chain)
        return self._new_judge()

    def _new_judge(self) -> Any:
        """Return what validates with the chain and the worker that there are, to be set up."""
        judge = java().JPackage("org").hl7.fhir.common.hapi.validation.validator.FhirInstanceValidator(self.context)
        judge.setWrappedWorkerContext(self.chain, self._worker)
        self._validator = self.context.newValidator()
        self._validator.registerValidatorModule(judge)
        return judge

    @classmethod
    @lru_cache(maxsize=2)
    def receiver(cls, *, refuse_unknown_profiles: bool = False) -> Engine:
        """Return an engine as a server has it that knows R4 core alone: unknown extensions and systems pass."""
        if refuse_unknown_profiles:  # with the chain and the worker of the other: it reads R4 core once for both
            made = copy.copy(cls.receiver())
            judge = made._new_judge()
            judge.setErrorForUnknownProfiles(True)
            judge.setAnyExtensionsAllowed(True)
            return made
        made = cls()
        made._let_unknown_pass(False)
        return made

    @classmethod
    def of_guide(cls, definitions: Iterable[Mapping[str, Json]]) -> Engine:
        """Return an engine that knows R4 core and a guide: unknown extensions and systems pass, unknown profiles do
        not."""
        made = cls(definitions)
        made._let_unknown_pass(True, made._pool)
        return made

    def _let_unknown_pass(self, refuse_unknown_profiles: bool, *known: Any) -> None:
        """Judge by R4 core and what else is known; extensions and systems that nobody knows are no errors."""
        jpype = java()
        support = jpype.JPackage("org").hl7.fhir.common.hapi.validation
        api = jpype.JPackage("ca").uhn.fhir.context.support
        unknown = support.support.UnknownCodeSystemWarningValidationSupport(self.context)
        unknown.setNonExistentCodeSystemSeverity(api.IValidationSupport.IssueSeverity.WARNING)
        judge = self._judge(
            *known,
            core(),
            support.support.CommonCodeSystemsTerminologyService(self.context),
            support.support.InMemoryTerminologyServerValidationSupport(self.context),
            unknown,
        )
        judge.setErrorForUnknownProfiles(refuse_unknown_profiles)
        judge.setAnyExtensionsAllowed(True)

    def validate(
        self, resources: Sequence[Mapping[str, Json] | bytes | str], *, workers: int = _WORKERS
    ) -> list[Issue]:
        """Validate a batch against R4 and the profiles that each resource names.

        Parameters
        ----------
        resources
            Each a dict, or the JSON or XML of one resource.
        workers
            How many at a time. One for definitions: the engine makes their snapshots again, on definitions that all
            threads share, and two at once now and then find each other's half-made lists (an index out of bounds).

        Returns
        -------
        list of Issue
            Of every severity, in the order of the batch.
        """
        with ThreadPoolExecutor(workers) as workers:
            found = list(workers.map(self._validate, range(len(resources)), resources))
        return [issue for issues in found for issue in issues]

    def _validate(self, index: int, resource: Mapping[str, Json] | bytes | str) -> list[Issue]:
        result = self._validator.validateWithResult(_text(resource))
        return [
            Issue(
                index,
                str(message.getSeverity().getCode()),
                str(message.getLocationString()),
                str(message.getMessageId()),
                str(message.getMessage()),
            )
            for message in result.getMessages()
        ]

    def snapshot(self, definition: Mapping[str, Json]) -> dict[str, Json]:
        """Return a StructureDefinition with the snapshot that the engine itself makes from its differential."""
        hapi = java().JPackage("ca").uhn.fhir.context
        bare = {key: value for key, value in definition.items() if key != "snapshot"}
        root = hapi.support.ValidationSupportContext(self.chain)
        made = self._snapshots.generateSnapshot(root, self._parse(bare), definition["url"], None, definition["name"])
        return json.loads(str(self.context.newJsonParser().encodeResourceToString(made)))  # type: ignore[no-any-return]

    def _parse(self, resource: Mapping[str, Json]) -> Any:
        return self.context.newJsonParser().parseResource(_text(resource))


class _Forms:
    """Questionnaires by URL, which the engine's own pool of definitions holds but does not hand out.

    The names of its methods are those of the Java interface. It has nothing to say to any other question: JPype cannot
    call a default method of an interface that has parameters.
    """

    def __init__(self, context: Any, forms: Mapping[str, Any]) -> None:
        self._context = context
        self._forms = forms

    def getFhirContext(self) -> Any:
        """Return the context, as every support must."""
        return self._context

    def hashCode(self) -> int:
        """Return a number, as every Java object must: asked for where no support knows a code system."""
        return 1

    def fetchResource(self, kind: Any, url: Any) -> Any:
        """Return the Questionnaire of a URL, with or without its version; the engine asks for other types too."""
        if kind is None or not str(kind.getSimpleName()).endswith("Questionnaire"):
            return None
        name, _, version = str(url).partition("|")
        found = self._forms.get(name)
        return found if found is not None and version in ("", str(found.getVersion())) else None

    def __getattr__(self, name: str) -> Any:
        answer = False if name.startswith("is") else None
        return lambda *_: answer


def _text(resource: Mapping[str, Json] | bytes | str) -> Any:
    text = resource
    if isinstance(text, Mapping):
        text = msgspec.json.Encoder(decimal_format="number").encode(text)
    return java().JString(text.decode("utf-8") if isinstance(text, bytes) else text)

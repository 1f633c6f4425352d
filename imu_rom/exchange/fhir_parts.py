"""The parts that a FHIR R4B Bundle is put together from, as plain JSON values with ids made from their content.

Written by hand: the structure is small, and what matters (status values, units, code systems) no library checks.
"""

import json
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from imu_rom.exchange.fhir_codes import (
    ABSENT_REASON,
    BODY_SITES,
    CATEGORIES,
    CATEGORY_SYSTEM,
    CONCEPTS,
    OWN_SYSTEM,
    PARTICIPANT_SYSTEM,
    SNOMED,
    STATUSES,
    UCUM,
    UNITS,
)
from imu_rom.recording.model import InputFile

__all__ = [
    "Resource",
    "body_site",
    "bundle",
    "clean",
    "code_system",
    "component",
    "device",
    "digests",
    "identified",
    "observation",
    "own_code",
    "provenance",
    "quantity",
    "reference",
    "subject",
]

Resource = dict[str, Any]


def clean(text: str) -> str:
    """Make text that a FHIR string may hold: no control characters, nothing that is half a character.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        Each such character replaced by the replacement character.
    """
    return "".join("\ufffd" if unicodedata.category(each) in {"Cc", "Cs"} else each for each in text).strip()


def quantity(value: float, unit: str) -> Resource:
    """Give a value with its UCUM unit.

    Parameters
    ----------
    value : float
        Finite.
    unit : str
        One of `UNITS`.

    Returns
    -------
    dict
        A Quantity.
    """
    shown = {"unit": UNITS[unit]} if UNITS[unit] else {}
    return {"value": value, **shown, "system": UCUM, "code": unit}


def own_code(code: str) -> Resource:
    """Give a concept of the program's own code system.

    Parameters
    ----------
    code : str
        A key of `CONCEPTS`.

    Returns
    -------
    dict
        A CodeableConcept with coding and text.
    """
    display = CONCEPTS[code].display
    return {"coding": [{"system": OWN_SYSTEM, "code": code, "display": display}], "text": display}


def component(code: str, value: float | str | bool | None, unit: str = "") -> list[Resource]:
    """Give one component of an Observation, or none where there is no value.

    Parameters
    ----------
    code : str
        A key of `CONCEPTS`.
    value : float, str, bool or None
        Number with a unit, whole number without one, truth, or text: the words of `CONCEPTS` become its codes.
    unit : str
        One of `UNITS`; empty for what is no quantity.

    Returns
    -------
    list of dict
        At most one.
    """
    if value is None:
        return []
    if unit:
        held: Resource = {"valueQuantity": quantity(float(value), unit)}
    elif isinstance(value, bool):
        held = {"valueBoolean": value}
    elif isinstance(value, int):
        held = {"valueInteger": value}
    else:
        word = str(value).replace(" ", "-")
        held = {"valueCodeableConcept": own_code(word)} if word in CONCEPTS else {"valueString": clean(str(value))}
    return [{"code": own_code(code), **held}]


def subject(pseudonym: str | None) -> Resource:
    """Point to a person by pseudonym: never a name, and no Patient resource that could hold one.

    Parameters
    ----------
    pseudonym : str or None
        As the plan has it; which namespace it belongs to only the clinic knows, so none is said.

    Returns
    -------
    dict
        ``subject``, or nothing.
    """
    shown = clean(pseudonym or "")
    return {"subject": {"type": "Patient", "identifier": {"value": shown}}} if shown else {}


def body_site(joint: str, side: str) -> Resource:
    """Name a joint of one side.

    Parameters
    ----------
    joint, side : str
        As in a plan.

    Returns
    -------
    dict
        A CodeableConcept; text alone where no code was seen.
    """
    code = BODY_SITES.get((joint, side))
    coding = {"coding": [{"system": SNOMED, "code": code}]} if code else {}
    return {**coding, "text": clean(f"{side} {joint}")}


def observation(
    code: Resource, category: str, status: str, elements: Mapping[str, object], components: Sequence[Resource] = ()
) -> Resource:
    """Put an Observation together.

    Parameters
    ----------
    code : dict
        What was observed, a CodeableConcept.
    category : str
        One of `CATEGORIES`.
    status : str
        One of `STATUSES`.
    elements : mapping of str to object
        Other elements by their names; those that are None or empty are left out.
    components : sequence of dict
        From `component`.

    Returns
    -------
    dict
        Without an id.

    Raises
    ------
    ValueError
        Category or status is none of those that are used.
    """
    if category not in CATEGORIES or status not in STATUSES:
        raise ValueError(f"no Observation has category {category!r} and status {status!r} here")
    return {
        "resourceType": "Observation",
        "status": status,
        "category": [{"coding": [{"system": CATEGORY_SYSTEM, "code": category}]}],
        "code": code,
        **{name: value for name, value in elements.items() if value is not None and value not in ([], {})},
        **({"component": list(components)} if components else {}),
    }


def digests(inputs: Iterable[InputFile]) -> str:
    """Name what was read by its content.

    Parameters
    ----------
    inputs : iterable of InputFile
        What was read.

    Returns
    -------
    str
        Their SHA-256 in order, whatever theirs.
    """
    return " ".join(sorted(clean(each.sha256) for each in inputs))


def identified(resource: Mapping[str, Any], origin: str = "") -> Resource:
    """Give a resource an id made from its content, so that the same content always has the same id.

    Parameters
    ----------
    resource : mapping
        Without an id.
    origin : str
        What tells it from the same content found elsewhere, such as the recording's SHA-256.

    Returns
    -------
    dict
        With ``id`` behind ``resourceType``: a UUID of version 5 (RFC 9562).
    """
    content = json.dumps(resource, sort_keys=True, allow_nan=False)
    own = uuid5(NAMESPACE_URL, f"{OWN_SYSTEM}\n{origin}\n{content}")
    return {"resourceType": resource["resourceType"], "id": str(own), **resource}


def reference(resource: Mapping[str, Any]) -> Resource:
    """Point to another resource of the Bundle.

    Parameters
    ----------
    resource : mapping
        With its id.

    Returns
    -------
    dict
        A Reference.
    """
    return {"reference": f"urn:uuid:{resource['id']}", "type": resource["resourceType"]}


def code_system() -> Resource:
    """Give the program's own code system, so that no code in the Bundle lacks its definition.

    Returns
    -------
    dict
        A CodeSystem resource with its id.
    """
    return identified(
        {
            "resourceType": "CodeSystem",
            "url": OWN_SYSTEM,
            "name": "ImuRomCodes",
            "title": "Codes of imu-rom for what no public code was found for",
            "status": "active",
            "experimental": False,
            "caseSensitive": True,
            "content": "complete",
            "count": len(CONCEPTS),
            "concept": [
                {"code": code, "display": each.display, "definition": each.definition}
                for code, each in CONCEPTS.items()
            ],
        }
    )


def device(version: str, packages: Mapping[str, str]) -> Resource:
    """Describe the program as the device that made the Observations; sensors' serial numbers are not in it.

    Parameters
    ----------
    version : str
        Of the program.
    packages : mapping of str to str
        Versions of what its figures depend on.

    Returns
    -------
    dict
        A Device resource with its id.
    """
    return identified(
        {
            "resourceType": "Device",
            "deviceName": [{"name": "imu-rom", "type": "model-name"}],
            "type": {"text": "software"},
            "version": [
                {"type": {"text": clean(name) or "unknown"}, "value": clean(each) or "unknown"}
                for name, each in {"imu-rom": version, **packages}.items()
            ],
        }
    )


def _digest(file: InputFile) -> Resource:
    """Name a file by its content; a de-identified result has no digests."""
    if not file.sha256:
        return {}
    return {"identifier": {"system": "urn:ietf:rfc:3986", "value": f"nih:sha-256;{clean(file.sha256)}"}}


def provenance(observations: Sequence[Resource], program: Resource, inputs: Iterable[InputFile]) -> Resource:
    """Say what the Observations were made from and by what.

    Parameters
    ----------
    observations : sequence of dict
        With their ids.
    program : dict
        From `device`.
    inputs : iterable of InputFile
        What was read. Each is named by its role and the SHA-256 of its bytes (``nih:`` of RFC 6920), not by its file
        name, which may be a person's.

    Returns
    -------
    dict
        A Provenance resource with its id. When it was recorded is not said: results carry no run time, so that the
        same input gives the same bytes.
    """
    sources = [{"role": "source", "what": {**_digest(each), "display": each.role}} for each in inputs]
    return identified(
        {
            "resourceType": "Provenance",
            "target": [reference(each) for each in observations],
            "_recorded": {"extension": [{"url": ABSENT_REASON, "valueCode": "unknown"}]},
            "activity": {"text": "analysis by imu-rom"},
            "agent": [
                {
                    "type": {"coding": [{"system": PARTICIPANT_SYSTEM, "code": "assembler"}]},
                    "who": reference(program),
                }
            ],
            **({"entity": sources} if sources else {}),
        }
    )


def bundle(resources: Iterable[Resource]) -> Resource:
    """Put resources into one Bundle.

    Parameters
    ----------
    resources : iterable of dict
        With their ids; the same one twice counts once.

    Returns
    -------
    dict
        A Bundle of type ``collection`` with its id.
    """
    entries = {each["id"]: {"fullUrl": f"urn:uuid:{each['id']}", "resource": each} for each in resources}
    return identified({"resourceType": "Bundle", "type": "collection", "entry": list(entries.values())})

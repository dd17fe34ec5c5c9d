"""Exports as independent libraries read them.

    exports.py page|bundle|calendar|table FILE

Ends with 0 when the file is as it must be, with 1 and the mistakes when not. Anything else means that the libraries are
missing (see requirements.txt).
"""

import csv
import json
import sys


def page(text):
    """HTML by html5lib in strict mode: any parse error is a mistake. Then what a reader aloud needs."""
    import html5lib

    try:
        tree = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False).parse(text)
    except html5lib.html5parser.ParseError as e:
        return [f"parse error: {e}"]
    wrong = []
    local = lambda e: e.tag.split("}")[-1] if isinstance(e.tag, str) else ""
    every = list(tree.iter())
    if not tree.get("lang"):
        wrong.append("no language")
    ids = [e.get("id") for e in every if e.get("id")]
    if len(ids) != len(set(ids)):
        wrong.append("an id twice")
    for e in every:
        name = local(e)
        if name in {"script", "link", "img", "iframe", "object", "embed", "form", "base", "image", "use", "a"}:
            wrong.append(f"a {name}")
        for key in e.attrib:
            if key.lower().startswith("on") or key.split("}")[-1].lower() in {"href", "src", "style"}:
                wrong.append(f"attribute {key} of {name}")
        if name == "th" and e.get("scope") not in {"col", "row"}:
            wrong.append("a table header without a scope")
        if name == "table" and not [c for c in e if local(c) == "caption" and c.text]:
            wrong.append("a table without a caption")
        if name == "svg":
            named = (e.get("aria-labelledby") or "").split()
            found = {c.get("id"): "".join(c.itertext()).strip() for c in e if local(c) in {"title", "desc"}}
            if e.get("role") != "img" or len(named) != 2 or any(not found.get(n) for n in named):
                wrong.append("a picture without a title and a description")
    levels = [int(local(e)[1]) for e in every if local(e) in {"h1", "h2", "h3", "h4", "h5", "h6"}]
    if levels[:1] != [1] or levels.count(1) != 1 or any(b > a + 1 for a, b in zip(levels, levels[1:])):
        wrong.append(f"headings {levels}")
    return wrong


def enumerations(model, where, wrong):
    """Values outside the lists that the library knows for a field; it does not look at them itself."""
    from pydantic import BaseModel

    for name, field in type(model).model_fields.items():
        value = getattr(model, name, None)
        allowed = (field.json_schema_extra or {}).get("enum_values") if isinstance(field.json_schema_extra, dict) else None
        for v in value if isinstance(value, list) else [value]:
            if isinstance(v, BaseModel):
                enumerations(v, f"{where}.{name}", wrong)
            elif v is not None and allowed and v not in allowed:
                wrong.append(f"{where}.{name}: {v} is none of {allowed}")


def quantities(node):
    if isinstance(node, dict):
        if node.get("system") == "http://unitsofmeasure.org":
            yield node
        for v in node.values():
            yield from quantities(v)
    elif isinstance(node, list):
        for v in node:
            yield from quantities(v)


def bundle(text):
    """FHIR by the models of fhir.resources. Its oldest release with models of today is R4B, which left these resources
    as they are in R4. Units by ucumvert, which reads UCUM by its own grammar."""
    from fhir.resources.R4B.bundle import Bundle
    from pydantic import ValidationError
    from ucumvert import PintUcumRegistry

    try:
        read = Bundle.model_validate_json(text)
    except ValidationError as e:
        return [f"{m['loc']}: {m['msg']}" for m in e.errors()]
    except KeyError as e:
        return [f"no kind of resource: {e}"]
    wrong = []
    kinds = set()
    for entry in read.entry:
        kinds.add(type(entry.resource).__name__)
        enumerations(entry.resource, type(entry.resource).__name__, wrong)
    enumerations(read, "Bundle", wrong)
    needed = {"Patient", "Device", "Procedure", "Observation", "QuestionnaireResponse", "AdverseEvent", "Provenance"}
    wrong += [f"no {k}" for k in needed - kinds]
    units = PintUcumRegistry()
    # What 1 of each unit is in base units.
    known = {"J/cm2": "10000 J/m**2", "nm": "1e-9 m", "ns": "1e-9 s", "ps": "1e-12 s", "mm": "1e-3 m", "Hz": "1/s", "J": "1 J", "{pulses}": "1"}
    seen = set()
    for q in quantities(json.loads(text)):
        code = q["code"]
        seen.add(code)
        try:
            one = units.from_ucum(code)
        except Exception as e:  # Each way to refuse is a mistake in the unit.
            wrong.append(f"unit {code}: {e}")
            continue
        if code not in known:
            wrong.append(f"unit {code} is not expected")
            continue
        if getattr(one, "type", "") == "ANNOTATION":
            # A bare annotation is read as itself; it stands for 1 (UCUM, "Curly Braces").
            if known[code] != "1":
                wrong.append(f"unit {code} is an annotation")
            continue
        # By the registry that the unit came from.
        ratio = (one / one._REGISTRY.Quantity(known[code])).to_base_units()
        if not ratio.dimensionless or abs(ratio.magnitude - 1) > 1e-9:
            wrong.append(f"unit {code} is {one.to_base_units()}")
    if not {"J/cm2", "nm", "mm", "Hz", "{pulses}"} <= seen:
        wrong.append(f"units {seen}")
    return wrong


def calendar(text):
    """The entry by icalendar."""
    import datetime

    from icalendar import Calendar

    try:
        read = Calendar.from_ical(text)
    except ValueError as e:
        return [str(e)]
    wrong = [] if read.get("version") == "2.0" and read.get("prodid") else ["no version or product"]
    events = [c for c in read.walk() if c.name == "VEVENT"]
    if len(events) != 1:
        return wrong + [f"{len(events)} events"]
    event = events[0]
    wrong += [f"{k}: {e}" for k, e in event.errors]
    wrong += [f"no {k}" for k in ("uid", "dtstamp", "dtstart", "dtend", "summary") if not event.get(k)]
    if not wrong:
        start, end = event.decoded("dtstart"), event.decoded("dtend")
        if type(start) is not datetime.date or end - start != datetime.timedelta(days=1):
            wrong.append(f"{start} to {end} is no whole day")
        if event.decoded("dtstamp").utcoffset() != datetime.timedelta(0):
            wrong.append("DTSTAMP is not in UTC")
    return wrong


def table(text):
    """A table by Python's own reader, strict."""
    try:
        rows = list(csv.reader(text.splitlines(keepends=True), strict=True))
    except csv.Error as e:
        return [str(e)]
    wrong = [f"row {i} has {len(r)} cells of {len(rows[0])}" for i, r in enumerate(rows) if len(r) != len(rows[0])]
    return wrong + [f"a formula: {c}" for r in rows for c in r if c[:1] in "=+@\t\r" and c] + ([] if len(rows) > 1 else ["no row"])


if __name__ == "__main__":
    what, path = sys.argv[1:]
    with open(path, encoding="utf-8", newline="") as f:
        mistakes = {"page": page, "bundle": bundle, "calendar": calendar, "table": table}[what](f.read())
    for mistake in mistakes:
        print(mistake)
    sys.exit(1 if mistakes else 0)

"""What PDF/A-3 asks of a file, as far as its structure shows it; read with pikepdf (qpdf).

Source: the validation profile PDFA-3A of veraPDF (its rules state clause and requirement of
ISO 19005-3:2012), whose clauses are named here. The whole profile (155 rules) and that of PDF/UA-1
were run by hand with a veraPDF built from its sources on a sheet and a job of the demo, and the
changed files of :data:`SPOILT`; no package of it is in the indexes that the tests install from.
"""

import io
import re
from collections.abc import Callable, Iterator
from typing import Any

import pikepdf
from pikepdf import Array, Dictionary, Name, Pdf

_BLEND = {"Normal", "Compatible", "Multiply", "Screen", "Overlay", "Darken", "Lighten"}
_BLEND |= {"ColorDodge", "ColorBurn", "HardLight", "SoftLight", "Difference", "Exclusion"}
_BLEND |= {"Hue", "Saturation", "Color", "Luminosity"}
_XMP = re.compile(r"<(xmp:CreateDate|xmp:ModifyDate|pdfaid:part|pdfaid:conformance)>([^<]*)<")


def _within(item: Any) -> Iterator[Any]:
    """A dictionary (or a stream's) and those written inside it; what has a number comes by it."""
    values: list[Any] = []
    if isinstance(item, pikepdf.Dictionary | pikepdf.Stream):
        yield item
        values = [item[key] for key in item.keys()]  # noqa: SIM118  (a stream is no mapping)
    elif isinstance(item, Array):
        values = list(item)
    for value in values:
        if isinstance(value, pikepdf.Object) and not value.is_indirect:
            yield from _within(value)


def _dictionaries(pdf: Pdf) -> Iterator[Any]:
    """Every dictionary of the file."""
    for item in (pdf.trailer, *pdf.objects):
        yield from _within(item)


def _file_faults(data: bytes, pdf: Pdf) -> Iterator[str]:
    head = data.split(b"\n", 2)
    if not re.fullmatch(rb"%PDF-1\.[0-7]", head[0]) or not head[1].startswith(b"%"):
        yield "6.1.2: header"
    if sum(byte > 127 for byte in head[1][1:5]) != 4:
        yield "6.1.2: second line"
    if "/ID" not in pdf.trailer or not all(bytes(part) for part in pdf.trailer.ID):
        yield "6.1.3: no file identifier"
    if pdf.is_encrypted:
        yield "6.1.3: encrypted"
    if not re.search(rb"%%EOF\r?\n?\Z", data):
        yield "6.1.3: something follows the end"
    yield from (f"syntax: {problem}" for problem in pdf.check_pdf_syntax())


def _colour_faults(pdf: Pdf) -> Iterator[str]:
    intents = pdf.Root.get("/OutputIntents", Array())
    profiles = [i.DestOutputProfile.read_bytes() for i in intents if i.S == Name.GTS_PDFA1]
    if len(profiles) != 1:
        yield "6.2.10: no one output intent, so that what is transparent has no colour space"
    for profile in profiles:
        # ICC.1 header: device class at 12, colour space at 16, "acsp" at 36 (from memory)
        if profile[12:16] not in (b"prtr", b"mntr") or profile[36:40] != b"acsp":
            yield "6.2.3: not an output profile"


def _object_faults(pdf: Pdf) -> Iterator[str]:
    fonts = 0
    for item in _dictionaries(pdf):
        if item.get("/Type") == Name.FontDescriptor:
            fonts += 1
            if not {"/FontFile", "/FontFile2", "/FontFile3"} & set(item.keys()):
                yield f"6.2.11.4.1: font {item.FontName} is not embedded"
        simple = item.get("/Subtype") in (Name.Type1, Name.TrueType)
        if item.get("/Type") == Name.Font and simple and "/FontDescriptor" not in item:
            yield f"6.2.11.4.1: font {item.BaseFont} is not embedded"
        if "/BM" in item and str(item.BM).lstrip("/") not in _BLEND:
            yield f"6.2.10: blend mode {item.BM}"
        if "/AA" in item:
            yield "6.5.2: additional actions"
        if isinstance(item.get("/S"), Name) and item.S in (
            *(Name.JavaScript, Name.Launch, Name.Sound, Name.Movie, Name.ResetForm),
            *(Name.ImportData, Name.Hide, Name.Rendition, Name.Trans, Name.SubmitForm),
            *(Name.URI, Name.GoToR),  # allowed by the standard; a sheet leads nowhere outside
        ):
            yield f"6.5.1: action {item.S}"
        if "/OPI" in item or "/Ref" in item or item.get("/Subtype") == Name.PS:
            yield "6.2.9: PostScript or reference"
    if not fonts:
        yield "no font was found: the search for fonts is wrong"


def _metadata_faults(pdf: Pdf, conformance: str) -> Iterator[str]:
    if "/Metadata" not in pdf.Root:
        yield "6.6.2.1: no metadata"
        return
    if "/Filter" in pdf.Root.Metadata:
        yield "metadata is compressed (from memory: it shall be plain text)"
    xmp = dict(_XMP.findall(pdf.Root.Metadata.read_bytes().decode("utf-8")))
    if xmp.get("pdfaid:part") != "3" or xmp.get("pdfaid:conformance") != conformance:
        yield "6.6.4: says another part or conformance"
    for key, name in (("/CreationDate", "xmp:CreateDate"), ("/ModDate", "xmp:ModifyDate")):
        digits = re.sub(r"\D", "", xmp.get(name, ""))
        if not digits or re.sub(r"\D", "", str(pdf.docinfo.get(key))) != digits:
            yield f"{name} is not {key}"


def _attachment_faults(pdf: Pdf) -> Iterator[str]:
    joined = [item.objgen for item in pdf.Root.get("/AF", Array())]
    for item in _dictionaries(pdf):
        if "/EF" not in item:
            continue
        name = str(item.get("/UF", "?"))
        if not {"/F", "/UF"} <= set(item.keys()):
            yield f"6.8: {name} without F and UF"
        if "/AFRelationship" not in item:
            yield f"6.8: {name} without its relationship"
        if item.objgen not in joined:
            yield f"6.8: {name} is not an associated file"
        if "/" not in str(item.EF.F.get("/Subtype", "")).lstrip("/"):
            yield f"6.8: {name} without its MIME type"


def archival_faults(data: bytes, *, conformance: str) -> list[str]:
    """Everything in the file that PDF/A-3 of that conformance (A, B or U) does not allow."""
    with pikepdf.open(io.BytesIO(data)) as pdf:
        faults = [*_file_faults(data, pdf), *_colour_faults(pdf), *_object_faults(pdf)]
        faults += [*_metadata_faults(pdf, conformance), *_attachment_faults(pdf)]
        if conformance == "A":
            if not pdf.Root.get("/MarkInfo", {}).get("/Marked", False):
                faults.append("6.7.2.2: not marked")
            if "/StructTreeRoot" not in pdf.Root:
                faults.append("6.7.3.3: no structure")
            pictures = [i for i in _dictionaries(pdf) if i.get("/S") == Name.Figure]
            faults += ["PDF/UA: a figure without words" for i in pictures if not i.get("/Alt")]
        return sorted(set(faults))


def _spoil_date(pdf: Pdf) -> None:
    pdf.docinfo["/CreationDate"] = pikepdf.String("D:20200101000000Z")


def _spoil_font(pdf: Pdf) -> None:
    font = next(i for i in pdf.objects if isinstance(i, Dictionary) and "/FontFile3" in i)
    del font["/FontFile3"]


def _spoil_relationship(pdf: Pdf) -> None:
    del pdf.Root.AF[0]["/AFRelationship"]


def _spoil_identity(pdf: Pdf) -> None:
    data = pdf.Root.Metadata.read_bytes().replace(b"<pdfaid:part>3<", b"<pdfaid:part>2<")
    pdf.Root.Metadata.write(data)


SPOILT: dict[str, tuple[Callable[[Pdf], None], str]] = {
    "script": (
        lambda pdf: pdf.Root.__setitem__("/OpenAction", Dictionary(S=Name.JavaScript, JS="1")),
        "6.5.1: action /JavaScript",
    ),
    "colour": (lambda pdf: pdf.Root.__delitem__("/OutputIntents"), "6.2.10"),
    "associated": (lambda pdf: pdf.Root.__delitem__("/AF"), "is not an associated file"),
    "relationship": (_spoil_relationship, "without its relationship"),
    "structure": (lambda pdf: pdf.Root.__delitem__("/StructTreeRoot"), "6.7.3.3"),
    "marked": (lambda pdf: pdf.Root.__delitem__("/MarkInfo"), "6.7.2.2"),
    "date": (_spoil_date, "xmp:CreateDate is not /CreationDate"),
    "font": (_spoil_font, "is not embedded"),
    "identity": (_spoil_identity, "6.6.4"),
    "actions": (lambda pdf: pdf.pages[0].obj.__setitem__("/AA", Dictionary(O=Dictionary(S=Name.Named))), "6.5.2"),
    "blend": (lambda pdf: pdf.pages[0].obj.__setitem__("/PieceInfo", Dictionary(BM=Name.Own)), "6.2.10: blend mode"),
}
"""Changes of a good file, each with what must be said of it."""

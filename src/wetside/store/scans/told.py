"""What a picture says of itself, in standard namespaces: an XMP packet, and an Exif block for JPEG.

Dublin Core for title, description and source; `xmpDM:tapeName` for the roll and `xmpDM:shotName` for the frame; the
exposure index where Exif keeps sensitivity. No time is written: a picture printed again is the same file.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from html import escape

from wetside import __version__

TOOL = f"wetside {__version__}"
SPACES = {
    "x": "adobe:ns:meta/", "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#", "dc": "http://purl.org/dc/elements/1.1/",
    "xmp": "http://ns.adobe.com/xap/1.0/", "xmpDM": "http://ns.adobe.com/xmp/1.0/DynamicMedia/",
    "exif": "http://ns.adobe.com/exif/1.0/",
}  # fmt: skip
XMP_SIGN = b"http://ns.adobe.com/xap/1.0/\0"


@dataclass(frozen=True)
class Told:
    """What is known of a picture; empty fields are left out."""

    source: str = ""
    roll: str = ""
    number: int | None = None
    stock: str = ""
    process: str = ""
    ei: float | None = None
    space: str = ""

    def title(self) -> str:
        """Roll and frame."""
        return f"{self.roll} frame {self.number}" if self.roll and self.number else self.roll or self.source

    def description(self) -> str:
        """Stock, process, EI and colour space in a line."""
        parts = (
            ("stock", self.stock), ("process", self.process), ("EI", f"{self.ei:g}" if self.ei else ""), ("space", self.space),
        )  # fmt: skip
        return ", ".join(f"{name} {value}" for name, value in parts if value)


def exr_attributes(told: Told) -> dict[str, str | int | float]:
    """Attributes of an EXR file by the names that OpenEXR gives them as standard: reelName, imageCounter, isoSpeed, comments."""
    found = {
        "reelName": told.roll, "imageCounter": told.number, "isoSpeed": told.ei, "comments": _told_line(told), "software": TOOL,
    }  # fmt: skip
    return {name: value for name, value in found.items() if value}


def dpx_fields(told: Told) -> dict[str, str | int]:
    """Fields of a DPX header (ST 268-1: file, orientation and film sections), cut to their lengths, by OpenImageIO's names.

    The roll is the project (200 bytes), the scan the source's name (100), roll and frame the frame's identification
    (32), stock, process and EI the slate's text (100).
    """
    found: dict[str, str | int | None] = {
        "Software": _ascii_cut(TOOL, 100), "DocumentName": _ascii_cut(told.roll, 200),
        "dpx:SourceImageFileName": _ascii_cut(told.source, 100), "dpx:FramePosition": told.number,
        "dpx:FrameId": _ascii_cut(told.title(), 32), "dpx:SlateInfo": _ascii_cut(told.description(), 100),
    }  # fmt: skip
    return {name: value for name, value in found.items() if value}


def _told_line(told: Told) -> str:
    return ", ".join(part for part in (told.title(), told.description()) if part)


def _ascii_cut(text: str, size: int) -> str:
    """Text as a field of that many bytes takes it, its closing zero included."""
    return text.encode("ascii", "replace").decode()[: size - 1]


def xmp(told: Told) -> bytes:
    """An XMP packet, UTF-8."""
    plain = {"xmp:CreatorTool": TOOL, "dc:source": told.source, "xmpDM:tapeName": told.roll}
    plain["xmpDM:shotName"] = str(told.number) if told.number else ""
    fields = [f"<{name}>{escape(value, quote=False)}</{name}>" for name, value in plain.items() if value]
    for name, value in (("dc:title", told.title()), ("dc:description", told.description())):
        if value:
            fields.append(
                f'<{name}><rdf:Alt><rdf:li xml:lang="x-default">{escape(value, quote=False)}</rdf:li></rdf:Alt></{name}>'
            )
    if told.ei:
        fields.append(
            f"<exif:ISOSpeedRatings><rdf:Seq><rdf:li>{round(told.ei)}</rdf:li></rdf:Seq></exif:ISOSpeedRatings>"
        )
    spaces = " ".join(f'xmlns:{k}="{v}"' for k, v in SPACES.items() if k not in ("x", "rdf"))
    packet = (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'
        f'<x:xmpmeta xmlns:x="{SPACES["x"]}"><rdf:RDF xmlns:rdf="{SPACES["rdf"]}"><rdf:Description rdf:about="" {spaces}>'
        f'{"".join(fields)}</rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="w"?>'
    )
    return packet.encode()


def exif(told: Told, width: int, height: int) -> bytes:
    """An Exif block (little-endian TIFF): description, tool, sensitivity, size, sRGB where the picture is, and what Exif asks of
    every JPEG."""
    whole, one = struct.pack("<II", 72, 1), struct.pack("<H", 1)
    first = [
        (270, 2, _ascii(_told_line(told))), (282, 5, whole), (283, 5, whole), (296, 3, struct.pack("<H", 2)),
        (305, 2, _ascii(TOOL)), (531, 3, one), (34665, 4, b""),
    ]  # fmt: skip
    inner = [(34855, 3, struct.pack("<H", min(65535, round(told.ei))))] if told.ei else []
    inner += [
        (36864, 7, b"0232"), (37121, 7, b"\1\2\3\0"), (40960, 7, b"0100"),
        (40961, 3, one if told.space == "sRGB" else b"\xff\xff"),
        (40962, 4, struct.pack("<I", width)), (40963, 4, struct.pack("<I", height)),
    ]  # fmt: skip
    start = 8 + 2 + 12 * len(first) + 4
    far = sum(len(data) + len(data) % 2 for _, _, data in first if len(data) > 4)
    first[-1] = (34665, 4, struct.pack("<I", start + far))
    return b"II*\0" + struct.pack("<I", 8) + _directory(first, 8) + _directory(inner, start + far)


def _ascii(text: str) -> bytes:
    return text.encode("ascii", "replace") + b"\0"


def _directory(entries: list[tuple[int, int, bytes]], at: int) -> bytes:
    """One directory and the values that do not fit into it, laid from `at` on."""
    sizes = {2: 1, 3: 2, 4: 4, 5: 8, 7: 1}
    place = at + 2 + 12 * len(entries) + 4
    out, behind = struct.pack("<H", len(entries)), b""
    for tag, kind, data in entries:
        out += struct.pack("<HHI", tag, kind, len(data) // sizes[kind])
        if len(data) <= 4:
            out += data.ljust(4, b"\0")
        else:
            out += struct.pack("<I", place + len(behind))
            behind += data + b"\0" * (len(data) % 2)
    return out + b"\0\0\0\0" + behind


def into_jpeg(data: bytes, told: Told, icc: bytes, width: int, height: int) -> bytes:
    """A JPEG file of that size with Exif, XMP and a profile after its start (and after a JFIF segment where there is one)."""
    at = 2
    if data[2:4] == b"\xff\xe0":
        at += 2 + struct.unpack(">H", data[4:6])[0]
    parts = (
        (b"\xe1", b"Exif\0\0" + exif(told, width, height)),
        (b"\xe1", XMP_SIGN + xmp(told)),
        (b"\xe2", b"ICC_PROFILE\0\x01\x01" + icc),
    )
    segments = b"".join(b"\xff" + sign + struct.pack(">H", len(body) + 2) + body for sign, body in parts)
    return data[:at] + segments + data[at:]

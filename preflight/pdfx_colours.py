"""How the requirements of PDF/X on colours, blend spaces and profiles are seen to be broken, from the facts alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from preflight.pdfx_claimed import Break, Claimed, is_registered, named, seen

COLOUR_WORDS = {
    "gray": "device gray", "rgb": "device RGB", "cmyk": "device CMYK", "lab": "Lab", "cal-gray": "calibrated gray",
    "cal-rgb": "calibrated RGB", "icc-gray": "ICC gray", "icc-rgb": "ICC RGB", "icc-cmyk": "ICC CMYK", "icc-lab": "ICC Lab",
    "icc-unknown": "ICC-based", "separation": "a spot colour", "device-n": "DeviceN", "indexed": "an indexed space", "pattern": "a pattern",
    "replaced": "a replaced device space",
}  # fmt: skip
#: Families that say how a colour looks, not which inks print it.
_BY_LOOK = ("lab", "cal-gray", "cal-rgb", "icc-gray", "icc-rgb", "icc-cmyk", "icc-lab", "icc-unknown")
_OUTPUT_SPACES = {
    "1a": ("CMYK", "GRAY"),
    "3": ("CMYK", "RGB", "GRAY"),
    "4": ("CMYK", "RGB", "GRAY"),
    "6": ("CMYK", "RGB", "GRAY"),
}
#: Classes of profiles that describe colours: scanner, monitor, press, a colour space (ICC.1, 7.2.5).
_DESCRIBING = ("scnr", "mntr", "prtr", "spac")
_LATEST_ICC = {"1a": 2, "3": 2, "4": 4, "6": 4}
_DEVICE_COLOURS = {1: ("gray",), 3: ("gray", "rgb"), 4: ("gray", "cmyk")}


def blend_space(file: Claimed) -> Iterator[Break]:
    """A space in which nothing can be mixed, or a device space that is not that of the printing condition."""
    for sight in file.sights("blend-space"):
        device = _device_colours(file, sight.page)
        wrong = sight.name in ("lab", "indexed", "separation", "device-n", "pattern")
        if wrong or (device is not None and sight.name in ("rgb", "cmyk") and sight.name not in device):
            yield seen(f"{COLOUR_WORDS.get(sight.name, sight.name)} ({sight.thing})", sight)


def intent_profile(file: Claimed) -> Iterator[Break]:
    kind = file.part.kind
    for intent in file.intents:
        if intent.profile_bytes is None:
            colours = [sight for sight in file.sights("colour") if sight.name in _BY_LOOK]
            if kind == "3" and colours:
                yield seen(
                    f"no profile in the output intent, though {COLOUR_WORDS[colours[0].name]} has to be converted",
                    colours[0],
                )
            continue
        if intent.profile_space is None:
            yield Break("what is embedded is no ICC profile")
            continue
        if intent.profile_class != "prtr":
            yield Break(f"the profile is of class {intent.profile_class}, not of an output device")
        is_many_inks = file.part.name == "PDF/X-6n" and (intent.profile_space or "").endswith("CLR")
        if intent.profile_space not in _OUTPUT_SPACES[kind] and not is_many_inks:
            yield Break(f"the profile is for {intent.profile_space}")
        if _is_later_icc(intent.profile_version, kind):
            yield Break(f"the profile is of ICC version {intent.profile_version}")
        if intent.profile_stated is not None and intent.profile_components not in (None, intent.profile_stated):
            yield Break(f"{intent.profile_stated} components are stated for a profile with {intent.profile_components}")


def inks_only(file: Claimed) -> Iterator[Break]:
    """PDF/X-1a: gray, CMYK and spot colours, alternates included."""
    yield from _colours(file, lambda _: ("gray", "cmyk", "separation", "device-n", "none", "pattern", "unknown"))


def device_colours(file: Claimed) -> Iterator[Break]:
    """Colours by the numbers of a device must be those of the printing condition."""
    yield from _colours(file, lambda page: _allowed(_device_colours(file, page)))


def _allowed(device: tuple[str, ...] | None) -> tuple[str, ...] | None:
    other = tuple(family for family in COLOUR_WORDS if family not in ("gray", "rgb", "cmyk"))
    return None if device is None else (*device, *other, "replaced", "none", "unknown")


def _colours(file: Claimed, allowed: Callable[[int | None], tuple[str, ...] | None]) -> Iterator[Break]:
    for sight in file.sights("colour", "alternate"):
        families = allowed(sight.page)
        if families is not None and sight.name not in families:
            words = COLOUR_WORDS.get(sight.name, sight.name)
            yield seen(
                f"{words} as alternate of {sight.thing}" if sight.what == "alternate" else f"{words}, {sight.thing}",
                sight,
            )


def _device_colours(file: Claimed, page: int | None) -> tuple[str, ...] | None:
    """The device families that a page's printing condition has; None where that is not known."""
    for sight in file.sights("page-intent"):
        if sight.page == page:
            return _DEVICE_COLOURS.get(int(sight.name))
    if len(file.intents) != 1:
        return None  # told as a break of its own
    (intent,) = file.intents
    if intent.profile_components is not None:
        return _DEVICE_COLOURS.get(intent.profile_components)
    return _DEVICE_COLOURS[4] if is_registered(intent) else None


def embedded_profiles(file: Claimed) -> Iterator[Break]:
    yield from (seen(f"no readable ICC profile ({sight.thing})", sight) for sight in file.sights("profile-unreadable"))
    yield from (seen(f"components: {named(sight)}", sight) for sight in file.sights("profile-count"))
    for sight in file.sights("profile"):
        device_class, *_, version = sight.name.split(" ")
        if device_class not in _DESCRIBING:
            yield seen(f"a profile of class {device_class} ({sight.thing})", sight)
        if _is_later_icc(version, file.part.kind):
            yield seen(f"a profile of ICC version {version} ({sight.thing})", sight)


def _is_later_icc(version: str | None, kind: str) -> bool:
    return version is not None and int(version.partition(".")[0]) > _LATEST_ICC[kind]

"""What the option --until says."""

from spreadsim.errors import InputError


def widths_of(
    until: tuple[str, ...], others: dict[str, int | None], replicates: int | None
) -> float | dict[str, float | str] | None:
    """Take the option --until apart.

    Parameters
    ----------
    until
        As given: a share (0.05 or 5%), or NAME=WIDTH several times.
    others
        Options that are of use with it alone.
    replicates
        What --replicates says, which is of no use with it.

    Returns
    -------
    float, dict or None
        What `compare_until` takes; None where the option is not given.

    Raises
    ------
    InputError
        For what can't be used.
    """
    if not until:
        useless = [f"{name}: found {value} without --until" for name, value in others.items() if value is not None]
        if useless:
            raise InputError(*(f"{text}, allowed with it" for text in useless))
        return None
    if replicates is not None:
        raise InputError(f"--replicates: found {replicates} with --until, allowed without it; --most sets the limit")
    widths: dict[str, float | str] = {}
    for text in until:
        name, given, width = (part.strip() for part in text.partition("="))
        number = width if given else name
        try:
            value: float | str = number if number.endswith("%") and _share(number) else float(number)
        except ValueError:
            allowed = "a share such as 0.05, or NAME=WIDTH such as infested_area=500 or fruiting_hosts=5%"
            raise InputError(f'--until: found "{text}", allowed {allowed}') from None
        if given:
            widths[name] = value
        elif len(until) > 1:
            raise InputError(f'--until: found "{text}", allowed one share alone, such as 0.05, or NAME=WIDTH each time')
        else:
            return value if isinstance(value, float) else _share(value)
    return widths


def _share(text: str) -> float:
    return float(text.removesuffix("%")) / 100

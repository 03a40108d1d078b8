"""What a modem's error numbers mean for the message that was to be sent."""

from gateways.errors import Refused, TryLater, Unsure
from gateways.modem.at import Failed

_NEVER = frozenset({1, 95, 96, 97, 99, 111})
"""Unassigned number, and messages that make no sense to the network (3GPP TS 24.011, E-2).

Barring, an unknown subscriber or a refused transfer may as well be our own SIM that ran out of
money: those are tried again.
"""

_NEVER_BY_THE_CENTRE = frozenset(
    {128, 129, 130, 143, 144, 145, 159, 160, 161, 175, 176, 195, 196, 197, 198, 199}
)
"""TP-Failure-Cause: the centre does not take such a message or such a recipient (3GPP TS 23.040,
9.2.3.22). 192 to 194, busy, not subscribed and failing, are tried again."""

_NEVER_BY_THE_MODEM = frozenset({304, 305})
"""The modem cannot read the PDU (3GPP TS 27.005, 3.2.5)."""

_NETWORK_TIMEOUT = {"CMS": 332, "CME": 31}
"""The network did not say whether it took the message (27.005, 3.2.5; 27.007, 9.2)."""

_SOON = frozenset({42, 47, 192, 314, 322, 14})
"""Congestion, a busy SIM, a full store: over soon."""

_SOON_S, _LATER_S = 15.0, 60.0


def verdict(failed: Failed) -> Refused | TryLater | Unsure:
    """What to raise for an error that the modem gave after it had got the PDU.

    References
    ----------
    3GPP TS 27.005, 3.2.5; 3GPP TS 27.007, 9.2; 3GPP TS 24.011, annex E-2; 3GPP TS 23.040, 9.2.3.22.
    """
    if _NETWORK_TIMEOUT.get(failed.kind) == failed.code:
        return Unsure(str(failed))
    never = _NEVER | _NEVER_BY_THE_CENTRE | _NEVER_BY_THE_MODEM
    if failed.kind == "CMS" and failed.code in never:
        return Refused(str(failed))
    return TryLater(str(failed), _SOON_S if failed.code in _SOON else _LATER_S)

"""Small word lists for the tests of reading, so that no test leans on how a shipped one grows."""

from reminder_service.kinds import Kind
from reminder_service.texts.words import UNLISTED_KINDS, WordList, parsed_word_list, word_list

SWAHILI = """
doubt_beginnings = ["hatuja"]
[months]
11 = ["novemba"]
[weekdays]
0 = ["jumatatu"]
[days_back]
1 = ["jana"]
[units]
1 = ["siku"]
7 = ["wiki"]
0 = ["mwaka", "masaa"]
[numbers]
1 = ["moja"]
2 = ["mbili", "ya pili"]
3 = ["tatu"]
5 = ["tano"]
10 = ["kumi"]
11 = ["kumi na moja"]
12 = ["kumi na mbili"]
20 = ["ishirini"]
[signs]
ago = ["zilizopita"]
last = ["iliyopita", "uliopita"]
this = ["huu"]
day-word = ["tarehe"]
month-word = ["mwezi"]
link = ["ya", "wa"]
hour-word = ["saa"]
plot = ["shamba"]
for = ["kwa"]
whole-ward = ["wote", "kwa wote"]
and = ["na"]
[beside]
filler = ["asante", "mahindi"]
doubt = ["bado"]
[tasks]
weed = ["palizi"]
unheard-of = ["kucheza"]
[tasks_done]
weed = ["nimepalilia"]
"""

PORTUGUESE = """
[months]
8 = ["agosto", "ago"]
11 = ["novembro"]
12 = ["dezembro", "dez"]
[weekdays]
0 = ["segunda feira", "segunda", "2 a feira"]
4 = ["sexta feira", "sexta"]
[days_back]
1 = ["ontem", "ontem à noite"]
"-1" = ["amanhã"]
[units]
1 = ["dias", "dia"]
7 = ["semana", "semanas"]
[numbers]
1 = ["um", "uma", "1 o"]
2 = ["dois", "segunda"]
10 = ["dez"]
12 = ["doze"]
20 = ["vinte"]
21 = ["vinte e um"]
[signs]
one-of = ["um", "uma"]
ago = ["atrás"]
ago-before = ["há", "faz"]
last = ["passada", "passado"]
this = ["este", "deste"]
day-word = ["dia"]
month-word = ["mês"]
link = ["de", "do", "da"]
plot = ["talhão"]
for = ["para"]
whole-ward = ["para todos"]
and = ["e"]
[beside]
filler = ["o", "a", "no", "na", "forte"]
doubt = ["ainda"]
[tasks]
weed = ["sacha"]
[tasks_done]
weed = ["sachei"]
"""

CHICHEWA = """
doubt_beginnings = ["sind"]
[months]
11 = ["novembala"]
[weekdays]
0 = ["lolemba"]
[days_back]
1 = ["dzulo"]
[units]
1 = ["tsiku", "masiku"]
7 = ["sabata"]
[numbers]
1 = ["imodzi"]
3 = ["atatu"]
12 = ["khumi ndi awiri"]
[signs]
ago = ["apitawo", "yapitayo"]
last = ["lapitali", "yatha"]
this = ["uno"]
day-word = ["pa", "tsiku la"]
month-word = ["mwezi"]
link = ["la", "wa"]
of-all = ["pa 100"]
whole-ward = ["onse", "kwa onse"]
and = ["ndi"]
"""

KINDS = {
    "sw": {Kind.RAIN: ["mvua"], Kind.GERMINATED: ["imeota"], Kind.PLANTED: ["tumepanda"],
           Kind.DONE: ["nimemaliza"], Kind.COUNT: ["hesabu"]},
    "pt": {Kind.RAIN: ["chuva", "choveu"], Kind.GERMINATED: ["germinou"], Kind.DONE: ["feita"],
           Kind.NO: ["não"], Kind.COUNT: ["contagem"]},
    "ny": {Kind.RAIN: ["mvula"], Kind.GERMINATED: ["chamera"], Kind.BORER_COUNT: ["mbozi"]},
}  # fmt: skip

BODIES = {"sw": SWAHILI, "pt": PORTUGUESE, "ny": CHICHEWA}


def list_text(language: str, body: str, kinds: dict[Kind, list[str]] | None = None) -> str:
    """Text of a word list file: kinds without words of their own get one that nobody writes."""
    named = {kind: ["q" + kind.replace("-", " q")] for kind in set(Kind) - UNLISTED_KINDS}
    lines = [f"{kind} = {words!r}" for kind, words in (named | (kinds or {})).items()]
    # What stands before the first section of the body belongs before [kinds].
    top, mark, sections = body.partition("\n[")
    return f'language = "{language}"\n{top}\n[kinds]\n' + "\n".join(lines) + mark + sections


def invented(language: str) -> WordList:
    """The invented list of a language, laid over the shipped English one."""
    text = list_text(language, BODIES[language], KINDS[language])
    return parsed_word_list(text, language, word_list("en"))

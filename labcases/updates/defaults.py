"""The wordings a lab starts with: one for every moment at which a customer should hear from it.

Each says what happened, what it means for their data, what comes next, by when, and whether they must do anything.
No percentages one cannot defend, no blame, no jargon. Common practice of the trade, no source.

A lab edits any of them; what it has not edited is read from here.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Default:
    """A text with gaps, and the title the staff choose it by."""

    key: str
    title: str
    subject: str
    body: str


LANGUAGE = "en"

_DO_NOT = """Until then, please:
- leave it switched off and do not use it again;
- do not format, repair, freeze, open or "clean" it;
- do not run any program on it, and do not let anybody else try;
- if it got wet: no power, no drying. Seal it damp in a bag and bring it soon;
- pack it padded on every side, away from magnets and heat."""

DEFAULTS: tuple[Default, ...] = (
    Default(
        "advice",
        "Advice before they bring it",
        "Before you bring it: what helps and what harms",
        f"""Dear {{reader}},

Thank you for asking us. From a description alone nobody can promise anything, and it is too early to give up: we can say more when we have looked at it. What happens to it before that matters most.

{_DO_NOT}

Bring it, or tell us when you post it, and we take it from there. Looking at it commits you to nothing beyond what you sign at our counter.

{{signature}}""",
    ),
    Default(
        "expected",
        "Expected by post: how to pack it",
        "{case}: we are expecting your parcel",
        f"""Dear {{reader}},

We are expecting your parcel with: {{what}}. Its case code is {{case}}. Please write that code on a slip inside the box.

{_DO_NOT}

Send it tracked to:
{{lab}}
{{lab_address}}

We photograph the parcel closed and opened, and write to you on the day it arrives. Please send us the tracking number when you have it. There is nothing else you need to do.

{{signature}}""",
    ),
    Default(
        "received",
        "Received",
        "{case}: it has arrived safely",
        """Dear {reader},

We received this from you on {received}: {what}. Its case code is {case}; please name it when you write or call.

It is labelled, and from now on we record who has it and where it is. Nothing has been done to your data yet. We have not switched it on, and we never write to it.

Next we examine it, and then tell you in plain words what is wrong, what can be done and what that would cost. You hear from us by {until}, also if we are not finished by then.

You need do nothing now. If you think of folders or files that matter most, tell us: we look for those first.

{signature}""",
    ),
    Default(
        "examined",
        "Examined: what we found",
        "{case}: what we found",
        """Dear {reader},

We have examined what you brought: {what}.

What we found: {found}

What it means for your data: {means}

What comes next: {next}

Nothing that costs money or cannot be undone starts before you say yes. Please answer by {until}; a reply to this mail or a call is enough. If you would rather have it back as it is, that is fine too: tell us.

{signature}""",
    ),
    Default(
        "authorised",
        "Go-ahead noted, the work starts",
        "{case}: thank you, we are starting",
        """Dear {reader},

We have noted your go-ahead for {what}, and the work starts now.

We make a copy first and work only on that copy. A failing medium can stop at any step, also when all is done right, so we read what you want most before the rest:
{wanted}

We expect to be finished by {promised}, and tell you at once if that changes.

You need do nothing now.

{signature}""",
    ),
    Default(
        "part-ordered",
        "A part must come: a longer wait",
        "{case}: we are waiting for a part",
        """Dear {reader},

To read your data we need a part from a second drive that matches yours closely. We do not have one that fits, so we have ordered it.

Your data are as they were: the drive rests with us, switched off, and waiting does it no harm.

We expect the part by {day}. When it is here we test it first, then go on. You hear from us by {until}, also if it is late.

You need do nothing now.

{signature}""",
    ),
    Default(
        "copied",
        "The copy is finished",
        "{case}: the copy is finished",
        """Dear {reader},

We have finished copying {what}. From here on we work on the copy, and your original rests.

What it means for your data: {means}

Next we look for the files you want, and open samples of each kind, because a file name alone is not yet a file. By {until} we tell you what is whole, what is partial and what is not there.

You need do nothing now.

{signature}""",
    ),
    Default(
        "trouble",
        "Something went wrong",
        "{case}: something you should know",
        """Dear {reader},

We have news that is not what we had hoped for.

What happened: {happened}

What it means for your data: {means}

What comes next: {next}

What you must do: {must_do}

We write again by {until}. If you would rather talk, please call us; ask for {by} and name the case {case}.

{signature}""",
    ),
    Default(
        "unrecoverable",
        "Nothing can be recovered",
        "{case}: we could not recover your data",
        """Dear {reader},

We are sorry: we could not recover your data from {what}.

What we found: {found}

What it means: {means}

Please do not power it or run programs on it, in case you want a second opinion. What we know goes with it.

Everything you brought is here to be collected; tell us if you would rather have it posted. If you ask for it, we write you a letter for an insurer, an employer or a maker's warranty.

{signature}""",
    ),
    Default(
        "ready",
        "Ready",
        "{case}: it is ready",
        """Dear {reader},

Your data are ready to be collected, with what you brought: {what}.

What it means for your data: {means}

Still to be paid: {balance}.

Please bring your receipt or something that shows who you are. If somebody else comes for you, tell us beforehand who it is. We open a sample together before you leave. If you would rather have it posted, tell us, and we send it sealed and tracked.

{signature}""",
    ),
    Default(
        "released",
        "Handed over: what to do now",
        "{case}: please check your data",
        """Dear {reader},

Your data left us. Please check them now, while we can still help: open the files that matter most, and copy everything to a second place today. Two copies in two places are the least.

Do not use the old medium again, even if it seems to work.

We keep our own copy for {keep_days} days from the handover, so that you can check. Tell us within that time if something is missing or does not open. After that we erase it, and then we cannot help any more.

{signature}""",
    ),
    Default(
        "keeping-ends",
        "Our copy will be erased",
        "{case}: we erase our copy soon",
        """Dear {reader},

On {day} we erase the copy we kept of your data, as agreed. After that we have nothing of it, and cannot give it back.

If you have checked your data and have them in two places, you need do nothing.

If something is missing, does not open, or you have not looked yet, please tell us before that day.

{signature}""",
    ),
    Default(
        "quiet",
        "Nothing new this week",
        "{case}: nothing new yet, and why",
        """Dear {reader},

There is nothing new to report about {what}, and we did not want to leave you without a word.

Why it takes time: {happened}

What it means for your data: {means}

What comes next: {next}

You hear from us by {until} at the latest. You need do nothing now.

{signature}""",
    ),
)
BY_KEY = {default.key: default for default in DEFAULTS}

# What is most likely to be told to the customer of a case at this stage.
FITTING = {
    "expected": "expected",
    "received": "received",
    "examined": "examined",
    "quoted": "examined",
    "authorised": "authorised",
    "in work": "copied",
    "checked": "copied",
    "ready": "ready",
    "unrecoverable": "unrecoverable",
    "handed over": "released",
    "closed": "released",
}

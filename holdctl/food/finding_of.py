"""Make a finding of a rule."""

from holdctl.food.findings import Breach, Finding, Verdict
from holdctl.food.rules import Rule


def finding(
    rule: Rule, limit: str, observed: str, verdict: Verdict, why: str = "", breaches: tuple[Breach, ...] = ()
) -> Finding:
    """Return what a rule found, with its source and how sure it is."""
    return Finding(
        rule=rule.name,
        text=rule.text,
        limit=limit,
        observed=observed,
        verdict=verdict,
        why=why,
        source=rule.source,
        force=rule.force,
        sureness=rule.sureness,
        remarks=rule.remarks,
        breaches=breaches,
    )

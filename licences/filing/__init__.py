"""Does a change of a licensed station need filing? Pure: two transmissions, a licensed channel, rules.

A change is measured from what the licence states, so that small changes add up; where the licence
states nothing, from what stood before. It is judged by the authority's rules, which are data
(licences.RenewalPolicy.filing_rules); where no rule speaks of a quantity, what keeps within the
licensed channel stays within and what leaves it needs a new grant.
"""

from .rules import QUANTITIES, FilingRule, RuleFormatError, read_rules
from .verdicts import COMMON_PRACTICE, Reason, Verdict, gravest, judge_change

__all__ = [
    "COMMON_PRACTICE",
    "QUANTITIES",
    "FilingRule",
    "Reason",
    "RuleFormatError",
    "Verdict",
    "gravest",
    "judge_change",
    "read_rules",
]

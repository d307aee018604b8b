"""What an extract would change in the register: worked out in full before anything is written.

- A registrant becomes a holder, a licence a licence, an assigned frequency at a position a
  licensed channel, a position a site, and each row a link of its own: one directed path, end A
  transmits, end B listens. The two directions of a hop are not joined: the extract licenses each
  alone, often under two licences, and does not say which frequency answers which where several
  run side by side. Joining changes no interference result, and would move a link's identity
  (and what people accepted about it) whenever a row is added.
- Links of a status that counts as in use are on the air without an end, even past the licence's
  expiry: the other party transmits until its regulator says otherwise. All others are retired.
- Rows of our own holder give licences, channels and sites (a site of ours within 100 m is
  taken, with its own position), and no links: those are entered by who plans them.
- A channel of ours that a person entered is found by licence, frequency and position, whatever its label;
  one that a licence of ours entered by a person lacks waits for a decision.
- What a person entered or changed is never overwritten: it stays, and is listed as kept.
- What an earlier file had and this one has not is listed as missing, and stays: an extract may
  be a part of the register.
"""

from .plan import Change, Kept, New, Plan, Stated
from .planner import plan_of

__all__ = ["Change", "Kept", "New", "Plan", "Stated", "plan_of"]

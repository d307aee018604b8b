"""The check of the whole network in shards that any number of workers share.

A run is planned from one revision of the register: ranges of receivers for interference, of sites for what
stands there, of links for what each is by itself, all of about equal cost, and one shard for the licences.
Whoever does the job ``check_network`` goes through the shards; helpers
take shards too. A shard is claimed by a lease, computed from the files of the revision and stored with
what it found, so that a worker that dies costs one shard. Findings of the register change only at the
end, all in one transaction: until then the old ones stand whole.
"""

from .coordinating import check_network, help_with
from .planning import plan

__all__ = ["check_network", "help_with", "plan"]

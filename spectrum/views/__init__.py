"""Pages of links, findings, checks, channel plans and radio types, and the pages where all apps meet."""

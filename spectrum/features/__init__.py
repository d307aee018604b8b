"""The register for desktop maps: OGC API – Features, Part 1: Core (OGC 17-069r4), read only, as GeoJSON."""

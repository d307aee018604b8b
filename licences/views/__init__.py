"""Pages of authorities, holders, licences and licensed channels: lists and forms."""

"""Forms for authorities, holders, licences and licensed channels."""

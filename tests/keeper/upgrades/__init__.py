"""Books that earlier versions made, brought up to date."""

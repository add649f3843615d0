"""Pages of pedigrees alone: of an animal, a clutch, a project, and where a line is."""

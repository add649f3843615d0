"""The register: species, traits, loci and lines."""

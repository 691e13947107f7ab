"""Clearance, standard fits, conformance decisions and what a gauge can prove. Pure."""

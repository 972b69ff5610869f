"""The case as an HL7 FHIR R4 (4.0.1) bundle of type collection, written without a library."""

"""The case as a DICOM Procedure Log (PS3.3 A.35.7, PS3.16 TID 3001). Needs the extra ``dicom``."""

"""Files to records: DICOM, stills, video and the worksheet become a Study."""

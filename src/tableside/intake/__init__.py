"""Files to records: DICOM, stills, video and the worksheet become a Study."""

from tableside.intake.study import OpenedStudy, open_named, open_study

__all__ = ["OpenedStudy", "open_named", "open_study"]

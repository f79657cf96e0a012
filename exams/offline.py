"""What a tablet needs to open an exam again without a network."""

from clinic.platform.registries import OfflinePage

PAGE = OfflinePage("exam", 10, r"^/visits/\d+/exam/$", ("exams/", "clinic/drawings/", "clinic/marks/"))

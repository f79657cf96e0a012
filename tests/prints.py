"""The smallest thing that is a PDF, for tests that do not look into it."""


def plain_pdf() -> bytes:
    return b"%PDF-1.7\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n"

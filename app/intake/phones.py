"""Phone numbers of the form: read as `records` reads them, so that an answer and a record can be compared."""

from app.records.phones import PHONE_PROBLEM, PhoneProblem, phone_words, read_phone

__all__ = ["PHONE_PROBLEM", "PhoneProblem", "phone_words", "read_phone"]

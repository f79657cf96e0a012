"""From sound to lines of text, inside the clinic: a local library with a model that the clinic provides.

Optional: neither library is installed with the program (the extras `whisper` and `vosk` of pyproject.toml),
and nothing is ever downloaded. `SPEECH_MODEL` is the path of the model, `SPEECH_LIBRARY` which library reads
it. The sound never leaves the machine, and is deleted once it was listened to.
"""

from exams.recogniser.engines import NotReady, Recogniser, recogniser

__all__ = ["NotReady", "Recogniser", "recogniser"]

"""What a command says when it cannot do what was asked."""


class Failure(Exception):
    """One sentence for the person: what is wrong and what to do. The command ends with 2."""

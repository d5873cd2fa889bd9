from plugread.rules.raw import RawRules


def faults_of(raw: RawRules) -> list[str]:
    return list(raw.unreadable)

"""All SQL of groups, holders and keys."""

from sqlmodel import Session, col, select

from snapline_service.access.tables import GroupRow, HolderRow, KeyRow


def group_by_name(session: Session, name: str) -> GroupRow | None:
    """Return the group with this handle."""
    return session.exec(select(GroupRow).where(GroupRow.name == name)).first()


def groups(session: Session) -> list[GroupRow]:
    """Return all groups by name."""
    return list(session.exec(select(GroupRow).order_by(GroupRow.name)).all())


def group_title(session: Session, group_id: str) -> str:
    """Return a group's title, or its name where it has none."""
    title, name = session.exec(select(GroupRow.title, GroupRow.name).where(GroupRow.id == group_id)).one()
    return title or name


def holder_by_name(session: Session, group_id: str, name: str) -> HolderRow | None:
    """Return the group's holder of this name."""
    query = select(HolderRow).where(HolderRow.group_id == group_id, HolderRow.name == name)
    return session.exec(query).first()


def key_by_digest(session: Session, digest: bytes) -> tuple[KeyRow, HolderRow] | None:
    """Return the key with this digest and its holder."""
    query = select(KeyRow, HolderRow).join(HolderRow).where(KeyRow.digest == digest)
    return session.exec(query).first()


def key_of_group(session: Session, group_id: str, key_id: str) -> tuple[KeyRow, HolderRow] | None:
    """Return a key by id, with its holder, if it belongs to the group."""
    query = select(KeyRow, HolderRow).join(HolderRow)
    return session.exec(query.where(KeyRow.id == key_id, HolderRow.group_id == group_id)).first()


def keys_of_group(session: Session, group_id: str) -> list[tuple[KeyRow, HolderRow]]:
    """Return the group's keys with their holders, oldest first."""
    query = (
        select(KeyRow, HolderRow)
        .join(HolderRow)
        .where(HolderRow.group_id == group_id)
        .order_by(col(KeyRow.created_at), col(KeyRow.id))
    )
    return list(session.exec(query).all())

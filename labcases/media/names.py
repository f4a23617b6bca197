"""What the type codes of partitions stand for: the common ones of MBR (hexadecimal) and GPT (GUID).

Both are open lists kept by many; these are from memory of the public ones.
"""

from __future__ import annotations

_MBR = {
    "1": "FAT12", "4": "FAT16, small", "5": "extended", "6": "FAT16", "7": "NTFS or exFAT", "b": "FAT32",
    "c": "FAT32, LBA", "e": "FAT16, LBA", "f": "extended, LBA", "27": "hidden NTFS, recovery", "82": "Linux swap",
    "83": "Linux", "85": "extended, Linux", "8e": "Linux LVM", "a5": "FreeBSD", "a6": "OpenBSD", "af": "HFS or HFS+",
    "ee": "GPT protective", "ef": "EFI system", "fd": "Linux RAID",
}  # fmt: skip
_GPT = {
    "C12A7328-F81F-11D2-BA4B-00A0C93EC93B": "EFI system",
    "21686148-6449-6E6F-744E-656564454649": "BIOS boot",
    "EBD0A0A2-B9E5-4433-87C0-68B6B72699C7": "basic data",
    "E3C9E316-0B5C-4DB8-817D-F92DF00215AE": "reserved",
    "DE94BBA4-06D1-4D40-A16A-BFD50179D6AC": "recovery",
    "5808C8AA-7E8F-42E0-85D2-E1E90434CFB3": "logical disk metadata",
    "AF9B60A0-1431-4F62-BC68-3311714A69AD": "logical disk data",
    "0FC63DAF-8483-4772-8E79-3D69D8477DE4": "Linux",
    "0657FD6D-A4AB-43C4-84E5-0933C84B4F4F": "Linux swap",
    "A19D880F-05FC-4D3B-A006-743F0F84911E": "Linux RAID",
    "E6D6D379-F507-44C2-A23C-238F2A3DF928": "Linux LVM",
    "CA7D7CCB-63ED-4C53-861C-1742536059CC": "LUKS",
    "48465300-0000-11AA-AA11-00306543ECAC": "HFS+",
    "7C3457EF-0000-11AA-AA11-00306543ECAC": "APFS",
}


def type_name(code: str) -> str:
    """What a type code stands for, or "unknown type"."""
    return _MBR.get(code) or _GPT.get(code) or "unknown type"

"""A player makes a library with commands alone, and takes a proven gig and its sheet to the stage."""

from scenebook.midi import read_smf
from tests.support.player import Player


def test_from_nothing_to_a_proven_gig_without_editing_a_file(player: Player) -> None:
    """Units, a rig, songs, scenes, forms, a gig; then lists, proofs, exports and the sheet."""
    player.types("library", "create")
    player.types("unit", "add", "fuzz, silicon", "--role", "fuzz", "--knob", "gain:clock")
    player.types(
        "unit", "add", "delay, tape", "--role", "delay", "--controller", "80", "--knob", "time:ms:20:60 ms..1 s"
    )
    player.types("unit", "add", "multi", "--always-on", "--programs", "128", "--settle", "40", "--preset", "12=dark")
    player.types("rig", "add", "board", "fuzz", "delay@main:3", "multi@main:1", "--home", "multi=1")

    player.types("song", "add", "Low tide", "--tempo", "96", "--key", "E minor")
    player.types("scene", "set", "Low tide", "verse", "multi=12", "delay=on", "delay.time=1/8.")
    player.types("scene", "set", "Low tide", "chorus", "fuzz=on", "fuzz.gain=2 o'clock", "multi=12")
    player.types("song", "form", "Low tide", "verse:16", "chorus:8/2", "verse:16", "chorus:16")
    player.types("song", "add", "Ferry", "--tempo", "120")
    player.types("scene", "set", "Ferry", "all", "delay=on")
    player.types("gig", "add", "Net loft", "--rig", "board", "--date", "2027-05-14", "--gap", "20 s")
    player.types("gig", "order", "net", "Low tide", "Ferry")

    cues = player.asks("compile", "net")["cues"]
    lean, full = player.asks("verify", "net"), player.asks("verify", "net", "--full")
    player.types("sheet", "net", "-o", "net.pdf")
    sheet = player.types("sheet", "net", "-o", "net.txt")
    player.types("export", "net", "--to", "net")

    assert [(cue["song"], cue["scene"]) for cue in cues[1:]] == [
        ("Low tide", "verse"), ("Low tide", "chorus"), ("Low tide", "verse"), ("Low tide", "chorus"), ("Ferry", "all"),
    ]  # fmt: skip
    verse = [move["bytes"] for move in cues[1]["moves"] if move["do"] == "message"]
    # 1/8. at 96 is 468.75 ms; (468.75 - 60) / 940 of 127 is 55.2, so step 55 (37). Slot 12 is program 11.
    assert sorted(verse) == sorted(["C0 0B", "B2 50 7F", "B2 14 37"])
    chorus = [(move["do"], move["unit"], move["to"]) for move in cues[2]["moves"] if move["do"] != "message"]
    assert ("press", "fuzz, silicon", "on") in chorus
    assert (lean["ok"], full["ok"]) == (True, True)
    assert lean["not_proved"] == {"fuzz, silicon": ["main", "gain"]}
    assert sheet == "Wrote net.txt\n"
    assert "Low tide" in (player.folder / "net.txt").read_text(encoding="utf-8")
    assert (player.folder / "net.pdf").read_bytes().startswith(b"%PDF-")
    names = [track.name for track in read_smf(player.folder / "net" / "net-loft.mid").tracks]
    assert names == ["Net loft, main", "channel 1: multi", "channel 3: delay, tape"]
    assert player.types("library", "check").endswith("Nothing is wrong.\n")


def test_a_rig_with_no_midi_is_as_good(player: Player) -> None:
    """Feet and hands alone: presses and turns at each cue, a sheet, a proof that says what it cannot prove."""
    player.types("library", "create")
    player.types("unit", "add", "octave down", "--role", "octave", "--knob", "sub:0 to 10")
    player.types("unit", "add", "multi", "--always-on", "--programs", "6", "--first", "1A", "--bank-of", "3")
    player.types("rig", "add", "small", "octave down", "multi", "--home", "multi=1A")
    player.types("song", "add", "Low tide", "--tempo", "96")
    player.types("scene", "set", "Low tide", "verse", "octave down=on", "octave down.sub=6")
    player.types("scene", "set", "Low tide", "bridge", "multi=2B")
    player.types("song", "form", "Low tide", "verse:16/1", "bridge:8", "verse")
    player.types("gig", "add", "Porch", "--rig", "small")
    player.types("gig", "order", "Porch", "Low tide")

    cues = player.asks("compile", "Porch")["cues"]
    proof = player.asks("verify", "Porch")
    player.types("sheet", "Porch", "-o", "porch.txt")

    assert [move for cue in cues for move in cue["moves"] if move["do"] == "message"] == []
    moves = [(cue["number"], m["do"], m["unit"], m["to"]) for cue in cues[1:] for m in cue["moves"]]
    assert (2, "press", "octave down", "off") in moves
    assert (2, "recall", "multi", "2B") in moves
    assert (3, "recall", "multi", "1A") in moves
    assert proof["ok"]
    assert (proof["messages"], proof["bytes"]) == (0, 0)
    assert set(proof["not_proved"]) == {"octave down", "multi"}
    text = (player.folder / "porch.txt").read_text(encoding="utf-8")
    assert "multi" in text
    assert "octave down" in text

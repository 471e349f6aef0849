"""The real libgphoto2 drives the simulated camera from end to end."""

import base64
import hashlib
import io
import json
from pathlib import Path

from PIL import Image

from tests.simulated.libgphoto2 import run
from tests.support.simcam import SimulatedCamera, start_simulated_camera


def test_settings_are_listed_set_and_read_back(camera: SimulatedCamera) -> None:
    out = run(
        camera.address,
        """
        put("shutterspeed", "1/60"); put("f-number", "f/4"); put("iso", "800"); put("whitebalance", "Tungsten")
        out = {n: read(n) for n in ("shutterspeed", "f-number", "iso", "whitebalance", "expprogram", "focusmode",
                                    "batterylevel", "cameramodel", "manufacturer")}
        out["lists"] = [choices("shutterspeed"), choices("f-number"), choices("iso")]
        """,
    )
    lists = out.pop("lists")
    assert out == {
        "shutterspeed": "0.0167s",
        "f-number": "f/4",
        "iso": "800",
        "whitebalance": "Tungsten",
        "expprogram": "M",
        "focusmode": "Manual",
        "batterylevel": "100%",
        "cameramodel": "Simulated camera",
        "manufacturer": "Duskhand",
    }
    assert lists[0][0] == "0.0001s"
    assert lists[0][-2:] == ["30.0000s", "429496.7295s"]  # 0xffffffff is bulb
    assert (lists[1][0], lists[1][-1], len(lists[1])) == ("f/2.8", "f/22", 19)
    assert (lists[2][0], lists[2][-1], len(lists[2])) == ("100", "12800", 22)  # 7 stops in thirds


def test_a_release_brings_a_pair_its_thumbnail_and_its_bytes(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, files="raw+jpeg", size="480x320") as camera:
        out = run(
            camera.address,
            """
            import base64
            camera.trigger_capture()
            out = {"added": events(5)}
            out["thumb"] = base64.b64encode(data(FOLDER, "DUSK0001.JPG", gp.GP_FILE_TYPE_PREVIEW)).decode()
            out["whole"] = base64.b64encode(data(FOLDER, "DUSK0001.JPG")).decode()
            out["raw"] = base64.b64encode(data(FOLDER, "DUSK0001.DNG")).decode()
            piece = bytearray(1000)
            count = camera.file_read(FOLDER, "DUSK0001.DNG", gp.GP_FILE_TYPE_NORMAL, 500, piece)
            out["piece"] = base64.b64encode(bytes(piece[:count])).decode()
            info = camera.file_get_info(FOLDER, "DUSK0001.JPG")
            out["size"] = [info.file.size, info.file.width, info.file.height]
            """,
        )
        folder = "/store_00010001/DCIM/100DUSKH/"
        assert out["added"] == [folder + "DUSK0001.JPG", folder + "DUSK0001.DNG"]
        on_card = {p.suffix: p.read_bytes() for p in (camera.card / "DCIM/100DUSKH").iterdir()}
        assert base64.b64decode(out["whole"]) == on_card[".JPG"]
        assert base64.b64decode(out["raw"]) == on_card[".DNG"]
        assert base64.b64decode(out["piece"]) == on_card[".DNG"][500:1500]
        assert out["size"] == [len(on_card[".JPG"]), 480, 320]
        with Image.open(io.BytesIO(base64.b64decode(out["thumb"]))) as thumb:
            assert thumb.size == (160, 120)  # DCF: CIPA DC-009
            thumb.load()


def test_files_above_a_mebibyte_come_in_pieces(tmp_path: Path) -> None:
    with start_simulated_camera(tmp_path, files="raw+jpeg", size="1200x800") as camera:
        out = run(
            camera.address,
            """
            import hashlib
            camera.trigger_capture()
            events(10)
            out = hashlib.sha256(data(FOLDER, "DUSK0001.DNG")).hexdigest()
            """,
        )
        raw = camera.card / "DCIM/100DUSKH/DUSK0001.DNG"
        assert raw.stat().st_size > 1 << 20
        assert out == hashlib.sha256(raw.read_bytes()).hexdigest()


def test_storage_is_honest_and_files_can_be_deleted(camera: SimulatedCamera) -> None:
    out = run(
        camera.address,
        """
        free = []
        def look():
            storage = camera.get_storageinfo()[0]
            free.append([storage.freekbytes, storage.freeimages])
        look()
        for _ in range(3):
            camera.trigger_capture(); events(5)
        look()
        listed = [names(camera.folder_list_files(FOLDER))]
        camera.file_delete(FOLDER, "DUSK0002.JPG")
        listed.append(names(camera.folder_list_files(FOLDER)))
        look()
        out = {"free": free, "listed": listed}
        """,
    )
    assert out["listed"] == [["DUSK0001.JPG", "DUSK0002.JPG", "DUSK0003.JPG"], ["DUSK0001.JPG", "DUSK0003.JPG"]]
    used = sum(p.stat().st_size for p in (camera.card / "DCIM").rglob("*.JPG"))
    assert camera.control("card")["free"] == 32_000_000_000 - used
    assert out["free"][0][0] > out["free"][2][0] > out["free"][1][0]


def test_live_view_shows_a_small_picture(camera: SimulatedCamera) -> None:
    out = run(
        camera.address,
        """
        import base64
        file = camera.capture_preview()
        out = base64.b64encode(bytes(file.get_data_and_size())).decode()
        """,
    )
    with Image.open(io.BytesIO(base64.b64decode(out))) as live:
        assert live.size == (480, 320)
        assert 60 < sum(live.resize((1, 1)).getpixel((0, 0))) / 3 < 190  # type: ignore[arg-type]


def test_two_clients_one_after_the_other_see_one_card(camera: SimulatedCamera) -> None:
    shoot = "camera.trigger_capture(); out = events(5)"
    first, second = run(camera.address, shoot), run(camera.address, shoot)
    assert [first, second] == [
        ["/store_00010001/DCIM/100DUSKH/DUSK0001.JPG"],
        ["/store_00010001/DCIM/100DUSKH/DUSK0002.JPG"],
    ]
    assert json.dumps([f["files"] for f in camera.record()]) == json.dumps(
        [["DCIM/100DUSKH/DUSK0001.JPG"], ["DCIM/100DUSKH/DUSK0002.JPG"]]
    )


def test_a_mute_camera_costs_the_client_a_time_out_and_a_new_session_finds_the_frame(camera: SimulatedCamera) -> None:
    camera.control("script", words="mute(3)")
    out = run(
        camera.address,
        """
        try:
            camera.trigger_capture()
            out = 0
        except gp.GPhoto2Error as error:
            out = error.code
        """,
    )
    assert out < 0
    camera.control("fault", word="ok")  # awake again, so that the test need not wait
    assert run(camera.address, "out = names(camera.folder_list_files(FOLDER))") == ["DUSK0001.JPG"]
    assert [f["written"] for f in camera.record()] == [True]

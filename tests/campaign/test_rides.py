"""Globs find each ride file once, for one vehicle."""

from pathlib import Path

import pytest

from ridelab.campaign import Campaign, Vehicle, find_rides, require_rides
from ridelab.errors import CampaignError


def campaign(root: Path, **globs: list[str]) -> Campaign:
    """Return a campaign with one vehicle a keyword, and its globs."""
    vehicles = {
        name: Vehicle(name=name, kind="bicycle", rides=tuple(patterns))
        for name, patterns in globs.items()
    }
    return Campaign(name="test", root=root, vehicles=vehicles)


@pytest.fixture
def files(tmp_path: Path) -> Path:
    """Return a folder, with brackets in its name, that holds a few empty files."""
    root = tmp_path / "spring [demo]"
    for name in ("b.fit", "a.fit", "deep/er/c.fit", "UPPER.FIT", ".hidden.fit", "folder.fit/x.txt"):
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    return root


def test_files_are_sorted_and_folders_left_out(files: Path) -> None:
    """One glob gives its files in order; folders and hidden files are none."""
    found = find_rides(campaign(files, v=["*.fit"]))
    assert found.files == (("v", files / "a.fit"), ("v", files / "b.fit"))


def test_a_folder_named_like_a_ride_is_told(files: Path) -> None:
    """Where the glob asks for an ending; one for everything matches folders as a matter of course.

    It is a warning: a folder is no ride that was lost.
    """
    (problem,) = find_rides(campaign(files, v=["*.fit"])).problems
    assert (problem.path, problem.severity) == (str(files / "folder.fit"), "warning")
    assert "a folder" in problem.message
    assert find_rides(campaign(files, v=["*"])).problems == ()


@pytest.mark.parametrize("name", ["deep/er", "deep/er/"])
def test_a_glob_that_names_a_folder_says_what_to_write(files: Path, name: str) -> None:
    """The files in the folder were meant; one sentence, not two."""
    found = find_rides(campaign(files, v=[name]))
    (problem,) = found.problems
    assert found.without == ("v",)
    assert (problem.path, problem.severity) == (name, "warning")
    assert "is a folder; accepted: the files in it, such as 'deep/er/*.fit'" in problem.message


def test_a_link_that_leads_nowhere_is_set_aside(files: Path) -> None:
    """The file that it stood for is missing: an error, with where the link leads."""
    (files / "lost.fit").symlink_to(files / "gone.fit")
    found = find_rides(campaign(files, v=["lost.fit"]))
    (problem,) = found.problems
    assert (problem.path, problem.severity) == (str(files / "lost.fit"), "error")
    assert str(files / "gone.fit") in problem.message
    assert "'v'" in problem.message
    assert found.files == ()


def test_vehicles_stay_in_the_order_of_the_campaign(files: Path) -> None:
    """Vehicle by vehicle, then path by path."""
    found = find_rides(campaign(files, z=["b.fit"], a=["a.fit"]))
    assert [vehicle for vehicle, _ in found.files] == ["z", "a"]


def test_two_stars_look_into_folders_below(files: Path) -> None:
    """A recursive glob finds files at any depth, this folder included."""
    found = find_rides(campaign(files, v=["**/*.fit"]))
    assert [Path(str(path)).name for _, path in found.files] == ["a.fit", "b.fit", "c.fit"]


def test_absolute_and_parent_globs(files: Path) -> None:
    """Globs may leave the campaign's folder, in so many words."""
    outside = campaign(files / "deep", v=["../a.fit", f"{files.parent}/*/b.fit"])
    assert {Path(str(path)).resolve() for _, path in find_rides(outside).files} == {
        files / "a.fit",
        files / "b.fit",
    }


def test_a_file_matched_twice_is_there_once(files: Path) -> None:
    """Overlapping globs and links to the same file of one vehicle count once."""
    (files / "link.fit").symlink_to(files / "a.fit")
    found = find_rides(campaign(files, v=["a.fit", "*.fit", "./a.fit"]))
    assert [Path(str(path)).resolve().name for _, path in found.files] == ["a.fit", "b.fit"]


@pytest.mark.parametrize("globs", [["0.fit", "1.fit", "a.fit"], ["*.fit"], ["a.fit", "*.fit"]])
def test_a_file_goes_before_the_links_to_it(files: Path, globs: list[str]) -> None:
    """Whatever the order that globs or folders give them in."""
    for link in ("1.fit", "0.fit"):
        (files / link).symlink_to(files / "a.fit")
    found = find_rides(campaign(files, v=globs))
    assert found.files[0] == ("v", files / "a.fit")
    assert (files / "0.fit") not in {path for _, path in found.files}


def test_of_two_links_the_first_by_name_stands(files: Path) -> None:
    """Where the file itself is matched by no glob."""
    for link in ("1.fit", "0.fit"):
        (files / link).symlink_to(files / "deep/er/c.fit")
    assert find_rides(campaign(files, v=["1.fit", "0.fit"])).files == (("v", files / "0.fit"),)


def test_a_file_that_two_vehicles_claim_goes_to_neither(files: Path) -> None:
    """The problem names both vehicles and the file; other files stay."""
    found = find_rides(campaign(files, one=["[ab].fit"], two=["a.fit"]))
    assert found.files == (("one", files / "b.fit"),)
    (problem,) = found.problems
    assert (problem.stage, problem.severity) == ("campaign", "error")
    assert problem.path == str(files / "a.fit")
    assert "'one' and 'two'" in problem.message


def test_a_glob_that_matches_nothing_is_a_warning(files: Path) -> None:
    """The others still count; the vehicle, the glob and where it was taken from are named."""
    found = find_rides(campaign(files, v=["*.gpx", "a.fit"]))
    assert len(found.files) == 1
    assert found.without == ()
    (problem,) = found.problems
    assert (problem.path, problem.stage, problem.severity) == ("*.gpx", "campaign", "warning")
    assert "'v'" in problem.message
    assert str(files) in problem.message


def test_other_capitals_are_pointed_out(files: Path) -> None:
    """*.FIT files are not missed in silence where *.fit was asked for."""
    (problem,) = find_rides(campaign(files, v=["upper.fit"])).problems
    assert "UPPER.FIT" in problem.message


def test_nothing_to_read_is_refused(files: Path) -> None:
    """No vehicle, or none with a file; one vehicle with a file is enough."""
    one = campaign(files, v=["*.gpx"], w=["a.fit"])
    assert find_rides(one).without == ("v",)
    require_rides(one, find_rides(one))
    for nothing, said in ((campaign(files), "no vehicle"), (campaign(files, v=["x"]), "no ride")):
        with pytest.raises(CampaignError, match=said):
            require_rides(nothing, find_rides(nothing))

"""Checks a results file of the program against the rules of validation/reference/formats.csv.

Each rule is a function of an open file that returns what breaks it; an empty list keeps the rule.
The file is read with h5py and xarray, which share no code with the program's writer but the HDF5
library.
"""

import warnings

import h5py
import numpy
import xarray

TRACKED_AND_INDEXED = 3
NO_VARIABLE = "This is a netCDF dimension but not a netCDF variable."


def datasets(file):
    """Every dataset of the file, by its path."""
    found = {}
    file.visititems(lambda name, thing: found.update({name: thing})
                    if isinstance(thing, h5py.Dataset) else None)
    return found


def text(value):
    """An attribute as text."""
    return value.decode() if isinstance(value, bytes) else str(value)


def is_scale(dataset):
    """Whether a dataset is a dimension scale."""
    return h5py.h5ds.is_scale(dataset.id)


def scales(file):
    """The datasets that are dimension scales."""
    return {name: d for name, d in datasets(file).items() if is_scale(d)}


def is_coordinate(dataset):
    """Whether a scale holds values, and is not only the size of a dimension."""
    return not text(dataset.attrs.get("NAME", b"")).startswith(NO_VARIABLE)


def variables(file):
    """The datasets that netCDF shows as variables."""
    return {n: d for n, d in datasets(file).items() if not is_scale(d) or is_coordinate(d)}


def groups_track_creation_order(file):
    order = file["/"].id.get_create_plist()
    kept = (order.get_link_creation_order() == TRACKED_AND_INDEXED
            and order.get_attr_creation_order() == TRACKED_AND_INDEXED)
    return [] if kept else ["/"]


def datasets_track_creation_order(file):
    return [name for name, d in datasets(file).items()
            if d.id.get_create_plist().get_attr_creation_order() != TRACKED_AND_INDEXED]


def scales_on_all_dimensions_or_none(file):
    return [name for name, d in datasets(file).items()
            if not is_scale(d) and any(len(dim) for dim in d.dims)
            and not all(len(dim) for dim in d.dims)]


def bare_dimensions_say_so(file):
    return [name for name, d in scales(file).items()
            if not is_coordinate(d)
            and text(d.attrs["NAME"]) != f"{NO_VARIABLE}{d.shape[0]:10d}"]


def coordinates_are_scales(file):
    return [name for name, d in datasets(file).items()
            if d.ndim == 1 and not is_scale(d) and len(d.dims[0])
            and d.dims[0][0].name.strip("/") == name]


def scales_have_ids_or_none_has(file):
    with_id = [n for n, d in scales(file).items() if "_Netcdf4Dimid" in d.attrs]
    return [] if len(with_id) in (0, len(scales(file))) else with_id


def types_are_plain(file):
    groups = []
    file.visititems(lambda name, thing: groups.append(name)
                    if isinstance(thing, h5py.Group) else None)
    odd = [n for n, d in datasets(file).items()
           if h5py.check_ref_dtype(d.dtype) or d.dtype.kind not in "fiuSO"]
    return groups + odd


def groups_are_of_1_8(file):
    """Groups that keep creation order exist from HDF5 1.8 on; older libraries cannot open them."""
    tracked = file["/"].id.get_create_plist().get_link_creation_order() & h5py.h5p.CRT_ORDER_TRACKED
    return [] if tracked else ["/"]


def coordinates_carry_their_name(file):
    return [name for name, d in scales(file).items()
            if is_coordinate(d) and text(d.attrs["NAME"]) != name]


def xarray_names_dimensions_and_decodes_time(file):
    wrong = []
    for engine in ("h5netcdf", "netcdf4"):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with xarray.open_dataset(file.filename, engine=engine) as data:
                if any(str(d).startswith("phony") for d in data.dims):
                    wrong.append(f"{engine}: phony dimensions")
                if not numpy.issubdtype(data["time"].dtype, numpy.datetime64):
                    wrong.append(f"{engine}: time is not decoded")
    return wrong


def conventions_are_named(file):
    found = text(file.attrs.get("Conventions", b""))
    return [] if found.startswith("CF-1.") else [f"Conventions = {found!r}"]


def times_are_cf(file):
    return [name for name, d in variables(file).items()
            if " since " in text(d.attrs.get("units", b""))
            and (text(d.attrs.get("standard_name", b"")) != "time" or "calendar" not in d.attrs)]


def missing_values_are_marked(file):
    wrong = []
    for name, d in variables(file).items():
        if is_scale(d):
            if "_FillValue" in d.attrs or (d.dtype.kind == "f" and numpy.isnan(d[()]).any()):
                wrong.append(name)
        elif d.dtype.kind == "f" and numpy.isnan(d[()]).any():
            fill = d.attrs.get("_FillValue")
            if fill is None or fill.dtype != d.dtype:
                wrong.append(name)
    return wrong


def every_number_says_what_it_is(file):
    return [name for name, d in variables(file).items()
            if d.dtype.kind == "f"
            and not (("standard_name" in d.attrs or "long_name" in d.attrs) and "units" in d.attrs)]


RULES = {
    "nc4_order_grp": groups_track_creation_order,
    "nc4_order_ds": datasets_track_creation_order,
    "nc4_scales_all": scales_on_all_dimensions_or_none,
    "nc4_nameattr": bare_dimensions_say_so,
    "nc4_coordvar": coordinates_are_scales,
    "nc4_dimid": scales_have_ids_or_none_has,
    "nc4_groups": types_are_plain,
    "nc4_v18": groups_are_of_1_8,
    "nc4_nameval": coordinates_carry_their_name,
    "nc4_xarray": xarray_names_dimensions_and_decodes_time,
    "cf_conv": conventions_are_named,
    "cf_time": times_are_cf,
    "cf_fill": missing_values_are_marked,
    "cf_std": every_number_says_what_it_is,
}


def broken_rules(path):
    """For each rule, by the id of its row, the list of what breaks it in the file."""
    with h5py.File(path, "r") as file:
        return {rule: check(file) for rule, check in RULES.items()}

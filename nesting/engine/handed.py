"""Many arrays handed to the kernels as one pointer.

Numba takes a tuple of arrays apart and passes every address and length of it by itself, some three hundred of them for
a World: every call copies them, and every kernel spends most of its compilation on them.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any

import numpy as np
from numba import from_dtype, types
from numba.core import cgutils
from numba.core.typing.templates import AttributeTemplate
from numba.extending import NativeValue, infer_getattr, lower_getattr_generic, models, register_model, unbox
from numba.np.arrayobj import make_array, populate_array

WORD = cgutils.intp_t


class HandedType(types.Type):
    """How numba knows a class of arrays: the type of each, and where its address and lengths stand."""

    def __init__(self, owner: str, arrays: tuple[tuple[str, str, int], ...]) -> None:
        self.arrays = {name: types.Array(from_dtype(np.dtype(kind)), axes, "C") for name, kind, axes in arrays}
        self.places = dict(zip(self.arrays, np.cumsum([0] + [1 + axes for _, _, axes in arrays]).tolist()))
        super().__init__(f"{owner}({hashlib.sha256(repr(arrays).encode()).hexdigest()[:12]})")


@lru_cache
def _type_of(owner: str, arrays: tuple[tuple[str, str, int], ...]) -> HandedType:
    return HandedType(owner, arrays)


@dataclass(frozen=True, eq=False)
class Handed:
    """To be inherited from by frozen dataclasses that hold nothing but arrays: a compiled function is given a pointer
    to where these are, and neither copies nor counts anything. It can fill the arrays, not change them for others, and
    whoever calls it keeps the object."""

    def __post_init__(self) -> None:
        words: list[int] = []
        kinds = []
        for field in fields(self):
            array = np.ascontiguousarray(getattr(self, field.name))
            object.__setattr__(self, field.name, array)
            words += [array.ctypes.data, *array.shape]
            kinds.append((field.name, array.dtype.str, array.ndim))
        block = np.array(words, np.intp)
        object.__setattr__(self, "_block", block)
        object.__setattr__(self, "address", block.ctypes.data)
        object.__setattr__(self, "_numba_type_", _type_of(type(self).__name__, tuple(kinds)))


@register_model(HandedType)
class _Model(models.PrimitiveModel):
    def __init__(self, manager: Any, kind: HandedType) -> None:
        super().__init__(manager, kind, WORD.as_pointer())


@infer_getattr
class _Attributes(AttributeTemplate):
    key = HandedType

    def generic_resolve(self, kind: HandedType, name: str) -> Any:
        return kind.arrays.get(name)


@lower_getattr_generic(HandedType)
def _array(context: Any, builder: Any, kind: HandedType, pointer: Any, name: str) -> Any:
    """The array of a name, made of its address and lengths, which nobody changes while a kernel works."""
    array_type, place = kind.arrays[name], kind.places[name]
    words = []
    for n in range(1 + array_type.ndim):
        word = builder.load(builder.gep(pointer, [WORD(place + n)]))
        word.set_metadata("invariant.load", builder.module.add_metadata([]))
        words.append(word)
    array = make_array(array_type)(context, builder)
    shape, size = words[1:], context.get_abi_sizeof(context.get_data_type(array_type.dtype))
    strides = [WORD(size)]
    for length in shape[:0:-1]:
        strides.insert(0, builder.mul(strides[0], length, flags=["nsw"]))
    data = builder.inttoptr(words[0], context.get_data_type(array_type.dtype).as_pointer())
    populate_array(array, data, shape, strides, size, None)
    return array._getvalue()


@unbox(HandedType)
def _unboxed(kind: HandedType, handed: Any, c: Any) -> NativeValue:
    address = c.pyapi.object_getattr_string(handed, "address")
    pointer = c.pyapi.long_as_voidptr(address)
    c.pyapi.decref(address)
    return NativeValue(c.builder.bitcast(pointer, WORD.as_pointer()), is_error=cgutils.is_null(c.builder, pointer))

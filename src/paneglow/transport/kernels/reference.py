"""One pointer to all inputs of a trace, in place of the 500 numbers that they are.

A kernel that is given named tuples is given every scalar and every array's address and shape, at each call. A reference
to a named tuple is one address; its fields are read as those of the tuple are, so that a kernel may be given either.
"""

import hashlib
from typing import Any

from numba.core import cgutils, types
from numba.core.typing.templates import AttributeTemplate
from numba.extending import infer_getattr, intrinsic, lower_getattr_generic, models, register_model


class Reference(types.Opaque):
    """Address of a named tuple of a type."""

    def __init__(self, record: Any) -> None:
        self.record = record
        digest = hashlib.sha256(str(record).encode()).hexdigest()[:16]
        super().__init__(f"Reference({record.instance_class.__name__}, {digest})")

    @property
    def key(self) -> Any:
        """What tells one such type from another."""
        return self.record


register_model(Reference)(models.OpaqueModel)


@infer_getattr
class _Fields(AttributeTemplate):
    key = Reference

    def generic_resolve(self, reference: Any, name: str) -> Any:  # type: ignore[override]
        """Type of a field: a record within is referred to as well."""
        if name not in reference.record.fields:
            return None
        field = reference.record.types[reference.record.fields.index(name)]
        return Reference(field) if isinstance(field, types.BaseNamedTuple) else field


@lower_getattr_generic(Reference)
def _read_field(context: Any, builder: Any, reference: Any, value: Any, name: str) -> Any:
    record = reference.record
    at = record.fields.index(name)
    place = builder.bitcast(value, context.get_data_type(record).as_pointer())
    place = cgutils.gep_inbounds(builder, place, 0, at)
    if isinstance(record.types[at], types.BaseNamedTuple):
        return builder.bitcast(place, cgutils.voidptr_t)
    return context.data_model_manager[record.types[at]].load_from_data_pointer(builder, place)


@intrinsic
def refer(typing_context: Any, record: Any) -> Any:  # noqa: ARG001
    """Refer to a named tuple; good while the kernel that made the reference runs."""

    def make(context: Any, builder: Any, signature: Any, values: Any) -> Any:
        (kind,) = signature.args
        place = cgutils.alloca_once(builder, context.get_data_type(kind))
        builder.store(context.data_model_manager[kind].as_data(builder, values[0]), place)
        return builder.bitcast(place, cgutils.voidptr_t)

    return Reference(record)(record), make

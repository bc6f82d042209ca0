"""Every key of a job file, declared once.

From this table come the reader's checks, the commented file that `vaporwright start` writes, the assumptions
register and the questions to the customer. The defaults are common practice without a source unless the basis says
otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from vaporwright.unit.field import Field
from vaporwright.unit.fields_of_enquiry import ENQUIRY_FIELDS
from vaporwright.unit.fields_of_unit import UNIT_FIELDS

FIELDS: Final[tuple[Field, ...]] = (*ENQUIRY_FIELDS, *UNIT_FIELDS)
FIELDS_BY_KEY: Final[Mapping[str, Field]] = {field.key: field for field in FIELDS}

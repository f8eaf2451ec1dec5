/// Reading of READING and ADVICE objects, which several records hold.
#pragma once

#include "records/json_reader.h"
#include "shimsight/records.h"

namespace shimsight {

/// The reading that `reader` stands on, its "schema" included.
Reading readReading(ObjectReader& reader);
Advice readAdvice(ObjectReader& reader);

}  // namespace shimsight

#pragma once

#include "identify/mode_model.h"
#include "support/table_questions.h"

namespace guardband::identify {

/// The modes of the built-in table, made once.
inline const Models& models() {
    static const Models all(support::built_in());
    return all;
}

}  // namespace guardband::identify

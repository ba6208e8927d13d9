#include "media/stretch.h"

#include <cmath>

#include "quantity/errors.h"

namespace guardband::media {

using quantity::InputError;

Stretch::Stretch(const ReadOptions& options, const std::string& path)
    : path_(path), start_s_(options.start_s), duration_s_(options.duration_s) {
    if (!std::isfinite(start_s_) || start_s_ < 0)
        throw InputError(path, "a start before its first frame was asked for", "start at 0 s or later");
    if (duration_s_ && (!std::isfinite(*duration_s_) || *duration_s_ <= 0))
        throw InputError(path, "a stretch without length was asked for", "give a duration above 0 s");
}

Stretch::Place Stretch::place(std::optional<std::int64_t> pts, const quantity::Rational& time_base) {
    if (is_everything()) return Place::Inside;
    if (!first_pts_) {
        if (!pts)
            throw InputError(path_, "its frames carry no times, so that no part of it can be chosen",
                             "measure the whole clip");
        first_pts_ = pts;
    }
    if (!pts) return place_;
    // Doubles: the difference of two absurd stamps may not fit 64 bits. Half a tick of play, since stamps are rounded
    // to ticks.
    const double tick_s = time_base.value();
    const double time_s = (static_cast<double>(*pts) - static_cast<double>(*first_pts_)) * tick_s + tick_s / 2;
    if (place_ == Place::Before && time_s >= start_s_) place_ = Place::Inside;
    if (place_ == Place::Inside && duration_s_ && time_s >= start_s_ + *duration_s_) place_ = Place::After;
    return place_;
}

}  // namespace guardband::media

#include "quantity/figure.h"

#include <gmock/gmock.h>

#include <cmath>

#include "quantity/errors.h"

namespace guardband::quantity {
namespace {

TEST(Figure, NeverShowsADefault) {
    const Figure figure = Figure::unknown("the picture stands still");
    EXPECT_FALSE(figure.is_known());
    EXPECT_FALSE(figure.number());
    EXPECT_EQ(figure.reason(), "the picture stands still");
}

TEST(Figure, RefusesWhatIsNoNumber) {
    EXPECT_THROW(Figure::measured(std::nan(""), 0.1, "Hz"), DomainError);
    EXPECT_THROW(Figure::measured(25, -1, "Hz"), DomainError);
    EXPECT_THROW(Figure::measured(25, INFINITY, "Hz"), DomainError);
}

TEST(Figures, KeepTheirOrderAndRefuseASecondClaim) {
    Figures figures;
    figures.add("scan", Figure::text("interlaced"));
    figures.add("frame_rate", Figure::measured(25, 1e-6, "Hz"));
    EXPECT_EQ(figures.all().front().first, "scan");
    EXPECT_EQ(figures.find("frame_rate")->number(), 25);
    EXPECT_EQ(figures.find("cadence"), nullptr);
    EXPECT_THROW(figures.add("scan", Figure::text("progressive")), DomainError);
}

}  // namespace
}  // namespace guardband::quantity

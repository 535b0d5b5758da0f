"""The API of reviews: who may see which buildings and dates, and for how long."""

from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from accounts.api import EndsSerializer, RecordSerializer, RecordViewSet, actor_of
from travel.places.models import BuildingReview
from travel.reviews import services


class BuildingReviewSerializer(RecordSerializer[BuildingReview]):
    """`first_date` to `last_date` is what is seen, `opens_on` to `ends_on` when the reviewer may look."""

    class Meta:
        model = BuildingReview
        fields = ("id", "reviewer", "buildings", "first_date", "last_date", "opens_on", "ends_on")


class BuildingReviewViewSet(RecordViewSet[BuildingReview]):
    """Reviews: the coordinator gives, changes and takes them back; a reviewer reads the own ones."""

    serializer_class = BuildingReviewSerializer
    filters = {"reviewer": "reviewer_id"}
    read_permission, write_permission = "reviews.view", "people.change"
    save_service = services.review_save
    delete_service = services.review_delete
    prefetch = ("buildings",)

    @extend_schema(operation_id="reviews_effects_new", responses=EndsSerializer)
    @action(detail=False, methods=["post"], url_path="effects", url_name="effects-new")
    def effects_new(self, request: Request) -> Response:
        """What the reviewer would see by a new review. Nothing is saved."""
        return self._foreseen(request, BuildingReview(), partial=False)

    @extend_schema(operation_id="reviews_effects", responses=EndsSerializer)
    @action(detail=True, methods=["post"])
    def effects(self, request: Request, pk: int) -> Response:
        """What the reviewer would see once this is changed. Nothing is saved."""
        return self._foreseen(request, self.get_object(), partial=True)

    def _foreseen(self, request: Request, row: BuildingReview, *, partial: bool) -> Response:
        asked = self.get_serializer(row, data=request.data, partial=partial)
        asked.is_valid(raise_exception=True)
        told = services.review_effects(actor=actor_of(request), row=row, values=asked.validated_data)
        return Response(EndsSerializer({"effects": told}).data)

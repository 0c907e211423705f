from fastapi import APIRouter

from app.intake.answer_routes import router as answer_router
from app.intake.asking_routes import router as asking_router
from app.intake.decision_routes import router as decision_router
from app.intake.guest_routes import router as guest_router
from app.intake.hold_routes import router as hold_router
from app.intake.letter_routes import router as letter_router
from app.intake.merge_routes import router as merge_router
from app.intake.question_routes import router as question_router
from app.intake.rule_routes import router as rule_router
from app.intake.visit_guest_routes import router as visit_guest_router
from app.intake.visit_routes import router as visit_router
from app.intake.zone_routes import router as zone_router

router = APIRouter()
router.include_router(asking_router)
router.include_router(visit_guest_router)  # before the pages that have a number for an address
router.include_router(visit_router)
router.include_router(hold_router)
router.include_router(guest_router)
router.include_router(zone_router)
router.include_router(rule_router)
router.include_router(question_router)
router.include_router(merge_router)
router.include_router(decision_router)
router.include_router(letter_router)
router.include_router(answer_router)

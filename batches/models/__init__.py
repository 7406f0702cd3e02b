"""The nouns of the nursery, one module each."""

from __future__ import annotations

from batches.models.batch import Batch
from batches.models.calendar_address import CalendarAddress
from batches.models.change_note import ChangeNote
from batches.models.code_register import CodeCounter, CodeEntry
from batches.models.house import Bench, House, HouseReading
from batches.models.keeping import KeepingChange
from batches.models.label_stock import LabelStock
from batches.models.medium import Medium, MediumBatch
from batches.models.order import Order
from batches.models.passport_issue import PassportIssue
from batches.models.people import Device, EnrolmentCode, FailedSignIn, Person, SignInLink
from batches.models.place import Place
from batches.models.plant_movement import PlantMovement
from batches.models.source import Source
from batches.models.spore_lot import GerminationTest, SporeLot
from batches.models.stage_fit import StageFit
from batches.models.stage_transition import StageTransition
from batches.models.stored_form import StoredForm
from batches.models.taxon import OwnWindow, Taxon
from batches.models.tray import LaidOutTray, Parentage, Tray
from batches.models.tray_check import CheckPhoto, TrayCheck
from batches.models.tray_hold import AlarmDrill, TrayHold
from batches.models.treatment import Examination, Treatment
from batches.models.upkeep import (
    CareDone,
    CareReminder,
    LabelPrint,
    NurserySetting,
    PlannedSowing,
    ToSettle,
    WorkShare,
)

__all__ = [
    "AlarmDrill",
    "Batch",
    "Bench",
    "CalendarAddress",
    "CareDone",
    "CareReminder",
    "ChangeNote",
    "CheckPhoto",
    "CodeCounter",
    "CodeEntry",
    "Device",
    "EnrolmentCode",
    "Examination",
    "FailedSignIn",
    "GerminationTest",
    "House",
    "HouseReading",
    "KeepingChange",
    "LabelPrint",
    "LabelStock",
    "LaidOutTray",
    "Medium",
    "MediumBatch",
    "NurserySetting",
    "Order",
    "OwnWindow",
    "Parentage",
    "PassportIssue",
    "Person",
    "Place",
    "PlannedSowing",
    "PlantMovement",
    "SignInLink",
    "Source",
    "SporeLot",
    "StageFit",
    "StageTransition",
    "StoredForm",
    "Taxon",
    "ToSettle",
    "Tray",
    "TrayCheck",
    "TrayHold",
    "Treatment",
    "WorkShare",
]
